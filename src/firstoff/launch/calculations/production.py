"""Pocket calculations of a line: takt, lead time, effectiveness, queues, stages and buffers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from firstoff.launch.calculations.base import Calculation
from firstoff.launch.calculations.damper_inputs import FloatArray
from firstoff.launch.calculations.formula import MINUTE, Given, Number, Read, above_zero, formula, from_zero
from firstoff.launch.calculations.formula import whole_number as whole
from firstoff.methods.production import measures, queues, staged_line

HOUR = 3600.0


def _each(values: FloatArray, law: Any) -> Any:
    """A law of one number over a number or a list of them."""
    return np.reshape([law(float(value)) for value in values.ravel()], values.shape)


def _takt(x: Read, _: Given) -> Mapping[str, Any]:
    return {"takt": measures.takt(float(x["available_s"]), float(x["demand"]))}


def _little(x: Read, _: Given) -> Mapping[str, Any]:
    return {"lead_time": measures.lead_time(float(x["wip"]), float(x["rate_per_h"]))}


def _oee(x: Read, _: Given) -> Mapping[str, Any]:
    found = measures.effectiveness(*(float(x[key]) for key in ("planned_min", "down_min", "ideal_s", "count", "good")))
    return {"A": found.availability, "P": found.performance, "Q": found.quality, "OEE": found.oee}


def _run(x: Read, _: Given) -> Mapping[str, Any]:
    rate, passed = measures.run_at_rate(*(float(x[key]) for key in ("good", "quoted_per_h", "time_h")))
    return {"good_per_h": rate, "pass": passed}


def _queues(x: Read, _: Given) -> Mapping[str, Any]:
    found: dict[str, Any] = {}
    for name, variation in (("mm1", 1.0), ("md1", 0.0)):
        q = queues.single_server(float(x["lambda_per_min"]), float(x["mu_per_min"]), variation)
        values = zip(("L", "Lq", "W", "Wq"), q, strict=True)
        found |= {f"{name}_{key}": value for key, value in values}
    return found


def _line(x: Read) -> tuple[int, float, float, float]:
    return whole("stations", x["stations"]), float(x["p"]), float(x["Tc_min"]), float(x["Td_min"])


def _unlimited(x: Read, _: Given) -> Mapping[str, Any]:
    n, p, tc, td = _line(x)
    e = _each(
        x["stations_per_stage"],
        lambda value: staged_line.unlimited_buffers(n, whole("stations_per_stage", value), p, tc, td),
    )
    return {"E_inf": e, "rate_per_h": e / tc}


def _one_buffer(x: Read, _: Given) -> Mapping[str, Any]:
    n, p, tc, td = _line(x)
    return {"E_one_buffer": _each(x["b"], lambda value: staged_line.one_buffer(n, p, tc, td, value))}


def _two(x: Read, _: Given) -> Mapping[str, Any]:
    from firstoff.methods.production import two_machines

    r1, p1, r2, p2 = (float(x[key]) for key in ("r1", "p1", "r2", "p2"))
    found = two_machines.steady_state(r1, p1, r2, p2, whole("N", x["N"]))
    return {
        "E": found.rate, "mean_buffer": found.stock, "p_starved": found.starved, "p_blocked": found.blocked,
        "E_no_buffer": found.rate_without_buffer, "E_infinite": found.rate_with_endless_buffer,
        "X": two_machines.interior_ratio(r1, p1, r2, p2),
    }  # fmt: skip


def _one(what: str, si: float = 1.0, **more: Any) -> Number:
    return above_zero(what, si, lists=False, **more)


_STAGES = {
    "stations": _one("stations of the line, all alike"),
    "p": from_zero("stops of one station a cycle, below 1", lists=False),
    "Tc_min": _one("cycle time", MINUTE),
    "Td_min": _one("mean time of a stop", MINUTE),
}
_QUEUE_GIVES: dict[str, str | tuple[str, float]] = {}
for _name in ("mm1", "md1"):
    _QUEUE_GIVES |= {f"{_name}_L": "1", f"{_name}_Lq": "1", f"{_name}_W": ("min", 60.0), f"{_name}_Wq": ("min", 60.0)}

CALCULATIONS: tuple[Calculation, ...] = (
    formula(
        "takt-time",
        "Takt time",
        "definition",
        {"available_s": _one("time available, planned stops taken off"), "demand": _one("parts wanted in it")},
        {"takt": "s"},
        _takt,
    ),
    formula(
        "littles-law",
        "Lead time from work in process and rate",
        "Little 1961",
        {"wip": from_zero("parts in process, mean", lists=False), "rate_per_h": _one("parts an hour", 1.0 / HOUR)},
        {"lead_time": ("h", HOUR)},
        _little,
    ),
    formula(
        "oee",
        "Overall equipment effectiveness",
        "definitions, names of ISO 22400-2",
        {
            "planned_min": _one("planned time", MINUTE),
            "down_min": from_zero("down time in it", MINUTE, lists=False),
            "ideal_s": _one("shortest cycle"),
            "count": _one("parts made"),
            "good": from_zero("of them good", lists=False),
        },
        {"A": "1", "P": "1", "Q": "1", "OEE": "1"},
        _oee,
    ),
    formula(
        "run-at-rate",
        "Run at rate against a quoted rate",
        "definition",
        {
            "good": from_zero("good parts", lists=False),
            "quoted_per_h": _one("rate quoted", 1.0 / HOUR),
            "time_h": _one("time of the run, as agreed", HOUR),
        },
        {"good_per_h": ("1/h", 1.0 / HOUR), "pass": ""},
        _run,
    ),
    formula(
        "queue-mm1-md1",
        "Single-server queues, exponential and constant service",
        "Pollaczek and Khinchine",
        {
            "lambda_per_min": _one("arrivals", 1.0 / 60.0),
            "mu_per_min": _one("service rate, above the arrivals", 1.0 / 60.0),
        },
        _QUEUE_GIVES,
        _queues,
    ),
    formula(
        "staged-line-unlimited",
        "Transfer line with unlimited buffers between stages",
        "Groover, Automation, Production Systems, and CIM, ch. 16",
        {**_STAGES, "stations_per_stage": above_zero("stations of a stage, or list")},
        {"E_inf": "1", "rate_per_h": ("1/h", 1.0 / HOUR)},
        _unlimited,
    ),
    formula(
        "staged-line-one-buffer",
        "Transfer line of two equal stages with one finite buffer, constant repair time",
        "Groover, Automation, Production Systems, and CIM, ch. 16; Buzacott's h(b) (from memory)",
        {**_STAGES, "b": from_zero("room of the buffer, parts, or list")},
        {"E_one_buffer": "1"},
        _one_buffer,
    ),
    formula(
        "two-machine-buffer-line",
        "Two unreliable machines with a buffer: rate, stock, starving, blocking",
        "Gershwin and Schick's deterministic model; its Markov chain solved",
        {
            "r1": _one("chance a cycle that the first is repaired", most=1.0),
            "p1": _one("chance a cycle that it fails while working", most=1.0),
            "r2": _one("the second's", most=1.0),
            "p2": _one("the second's", most=1.0),
            "N": _one("room for all stock between the machines, 4 to 20 000 parts"),
        },
        {
            "E": "parts/cycle",
            "mean_buffer": "parts",
            "p_starved": "1",
            "p_blocked": "1",
            "E_no_buffer": "parts/cycle",
            "E_infinite": "parts/cycle",
            "X": "1",
        },  # fmt: skip
        _two,
    ),
)
