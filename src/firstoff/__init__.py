"""firstoff: plan, predict and prove the first parts off a line.

The Python interface is :mod:`firstoff.launch`, one function per verb.
"""

__version__ = "0.1.0"
