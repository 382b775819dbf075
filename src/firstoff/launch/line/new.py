"""A commented plant sheet with a small plating line, to start from: it runs as it is."""

from __future__ import annotations

PLANT = """\
# Plant sheet with a plating line. Lines that begin with # are comments. An invented example: put in your own figures.
#
# A quantity is written with its unit, in any unit of the right kind: "0.8 m/s", "30 m/min", "1.6 m", "160 cm".
# `firstoff check plant.toml` names every fault; `firstoff line plant.toml` finds the timetable.

[plant]
name = "our works"

[line]
name = "{name}"
travel_speed = "0.8 m/s"
acceleration = "0.4 m/s^2"   # may be left out: then the crane is taken to be at speed at once
lift = "9 s"                 # hooking on and lifting clear; a tank may say otherwise
drip = "6 s"                 # hanging over the tank
lower = "8 s"                # lowering and unhooking
time_step = "1 s"            # crane times are rounded up to it, windows inwards; 0.1 s when left out
# flight_bars = 12           # no more loads can be in the line at once
# separation = "2.4 m"       # needed with two cranes
# slack = "5 s"              # kept free at both ends of every window, for a crane that is late

# Every tank and load place. Tanks of one operation are duplicates. Load places have the operation "load and unload",
# or "load" and "unload". A tank may state lift, drip and lower of its own.
[[line.tank]]
name = "L"
operation = "load and unload"
position = "0 m"
drip = "0 s"
turnaround = "90 s"          # taking off and hanging on

[[line.tank]]
name = "1"
operation = "soak clean"
position = "1.6 m"

[[line.tank]]
name = "2"
operation = "rinse"
position = "3.0 m"
drip = "3 s"

[[line.tank]]
name = "3"
operation = "acid dip"
position = "4.4 m"

[[line.tank]]
name = "4"
operation = "nickel"
position = "6.0 m"
drip = "10 s"
bus = "rectifiers"

[[line.tank]]
name = "5"
operation = "nickel"
position = "7.6 m"
drip = "10 s"
bus = "rectifiers"

[[line.tank]]
name = "6"
operation = "chrome"
position = "9.2 m"
drip = "12 s"
bus = "rectifiers"

[[line.tank]]
name = "7"
operation = "last rinse"
position = "10.6 m"

# The cranes, in their order along the track; one without limits when none is named.
# [[line.crane]]
# name = "crane 1"
# from = "-1 m"
# to = "12 m"

# The products of one cycle; one when none is named. Then every step says whose it is: product = "front bumper"
# [[line.product]]
# name = "front bumper"
# loads = 1                  # in one cycle
# parts = 8                  # on one load

# The steps in the order of the recipe. time: window from set down to the start of the lift.
[[line.step]]
operation = "soak clean"
time = "180 to 300 s"

[[line.step]]
operation = "rinse"
time = "20 to 90 s"

[[line.step]]
operation = "acid dip"
time = "30 to 60 s"

[[line.step]]
operation = "nickel"
time = "600 to 720 s"
current = "1800 A"
entry = "live"               # or "dead": whether current is on while the load is lowered
ramp = "15 s"                # inside the window; contact = "..." is the time from set down until current flows

[[line.step]]
operation = "chrome"
time = "120 to 180 s"
current = "4500 A"
contact = "5 s"
ramp = "10 s"

[[line.step]]
operation = "last rinse"
time = "20 to 300 s"

# Most time in air between two operations: nickel goes passive before chrome.
[[line.air_limit]]
from = "nickel"
to = "chrome"
time = "45 s"

[[line.bus]]
name = "rectifiers"
current = "9000 A"           # most at once, of all tanks on it

# Times taken with a watch outrank speed and acceleration.
# [[line.measured]]
# from = "4"
# to = "6"
# loaded = "34 s"
# empty = "8 s"
"""
