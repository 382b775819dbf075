"""Single-server queues."""

from __future__ import annotations

from typing import NamedTuple

from firstoff.methods.ranges import not_negative, real


class Queue(NamedTuple):
    """Mean numbers in the system and waiting, mean times in the system and waiting [s]."""

    in_system: float
    waiting: float
    time_in_system: float
    time_waiting: float


def single_server(arrivals: float, service: float, variation: float) -> Queue:
    """Queue before one server with random (Poisson) arrivals: Pollaczek and Khinchine's formula.

    rho = lambda/mu; L_q = rho^2 (1 + c^2)/(2 (1 - rho)); W_q = L_q/lambda; L = L_q + rho; W = W_q + 1/mu.

    arrivals lambda, service mu [1/s], 0 < lambda < mu; variation c: standard deviation of the service time over its
    mean, >= 0 (1 exponential: M/M/1; 0 constant: M/D/1). Steady state, unlimited room. Source: Pollaczek-Khinchine.
    ValueError out of range; a server that cannot keep up has no steady state.
    """
    rate, mu = real("arrival rate", arrivals, above=0.0), real("service rate", service, above=0.0)
    if rate >= mu:
        raise ValueError("the arrival rate must be below the service rate: the queue would grow without end")
    c, rho = not_negative("variation", variation), rate / mu
    waiting = rho**2 * (1.0 + c**2) / (2.0 * (1.0 - rho))
    return Queue(waiting + rho, waiting, waiting / rate + 1.0 / mu, waiting / rate)
