"""Plain measures of a line: takt, lead time, effectiveness, run at rate."""

from __future__ import annotations

from typing import NamedTuple

from firstoff.methods.ranges import not_negative, real


def takt(available: float, demand: float) -> float:
    """Takt time, available/demand [s].

    available [s] > 0, planned stops taken off; demand [parts] > 0 in that time. Definition. ValueError out of range.
    """
    return real("available", available, above=0.0) / real("demand", demand, above=0.0)


def lead_time(work_in_process: float, rate: float) -> float:
    """Mean lead time by Little's law, W = L/lambda.

    work_in_process L [parts] >= 0, mean; rate lambda [parts/s] > 0, mean; a line in steady state. Source: Little 1961.
    ValueError out of range.
    """
    return not_negative("work in process", work_in_process) / real("rate", rate, above=0.0)


class Effectiveness(NamedTuple):
    """Availability, performance, quality and their product."""

    availability: float
    performance: float
    quality: float
    oee: float


def effectiveness(planned: float, down: float, ideal: float, count: float, good: float) -> Effectiveness:
    """Overall equipment effectiveness, A P Q = ideal good/planned.

    A = (planned - down)/planned; P = ideal count/run; Q = good/count.

    planned and down [s], 0 <= down < planned; ideal cycle [s] > 0; count and good parts, 0 <= good <= count, count > 0.
    Source: definitions, names of ISO 22400-2. ValueError out of range, and where P is above 1: the ideal cycle is not
    the shortest, or a count or time is wrong.
    """
    plan, stop = real("planned time", planned, above=0.0), not_negative("down time", down)
    if stop >= plan:
        raise ValueError("the down time must be below the planned time")
    made, right = real("count", count, above=0.0), not_negative("good", good)
    if right > made:
        raise ValueError("good parts must not be more than parts made")
    run = plan - stop
    performance = real("ideal cycle", ideal, above=0.0) * made / run
    if performance > 1.0 + 1e-9:
        raise ValueError(
            f"the performance is {performance:.4g}, above 1: the ideal cycle is too long, or a count or time is wrong"
        )
    availability, quality = run / plan, right / made
    return Effectiveness(availability, performance, quality, availability * performance * quality)


def run_at_rate(good: float, quoted: float, time: float) -> tuple[float, bool]:
    """Good parts a second, and whether they reach the quoted rate: good >= quoted time.

    good [parts] >= 0; quoted [parts/s] > 0; time [s] > 0, as agreed with the customer (planned or net). Definition.
    ValueError out of range.
    """
    parts, span = not_negative("good", good), real("time", time, above=0.0)
    wanted = real("quoted rate", quoted, above=0.0) * span
    return parts / span, parts >= wanted * (1.0 - 1e-12)
