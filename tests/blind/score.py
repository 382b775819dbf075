"""The bench's figures: from rows of single launches to tables."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from scipy.stats import binomtest

from firstoff.report.tables import table
from tests.blind.measure import NONE, OTHER

Row = Mapping[str, Any]
BINS = (0.0, 0.5, 0.7, 0.8, 0.9, 0.95, 0.99, 1.0)
ACCUSED = 0.7
RELIABILITY = {
    "reliability of the leading answer": "one declared fault or none",
    "reliability of an accused station": "one fault or none, undeclared ones included",
    "reliability of the leading fault": "one declared fault",
}
SHORT = {"pressure_tube": "tube", "piston_rod": "rod", "piston_valve": "piston v", "base_valve": "base v",
         "oil_fill": "oil", "gas_charge": "gas", "damping_rig": "rig", NONE: "none", OTHER: "else"}  # fmt: skip


def rate(hits: Sequence[bool]) -> dict[str, Any]:
    """Share of hits with its 95 % interval (Clopper-Pearson)."""
    n, k = len(hits), int(sum(hits))
    if not n:
        return {"hits": 0, "of": 0, "share": None, "low": None, "high": None}
    ends = binomtest(k, n).proportion_ci(0.95, method="exact")
    return {"hits": k, "of": n, "share": k / n, "low": float(ends.low), "high": float(ends.high)}


def true_class(r: Row) -> str:
    """The right answer of a launch with one truth."""
    if r["kind"] == "healthy":
        return NONE
    return OTHER if r["kind"] == "undeclared" else str(r["planted"][0]["station"])


def right_station(r: Row) -> bool:
    return bool(r["lead"] == true_class(r))


def right_fault(r: Row) -> bool:
    """Most probable of faults, none and something else. `faults` counts a fault's share in pairs."""
    best = max({**r["faults"], NONE: r["none"], OTHER: r["other"]}.items(), key=lambda item: item[1])[0]
    return bool(best == r["planted"][0]["fault"])


def fault_or_alike(r: Row) -> bool:
    top = r["causes"][0] if r["causes"] else None
    return right_fault(r) or bool(top and r["planted"][0]["fault"] in top["alike"])


def accused(r: Row) -> bool:
    return max(r["stations"].values(), default=0.0) >= ACCUSED


def plain_right(r: Row) -> bool:
    return bool(r["plain"]["station"] == true_class(r))


def brier(rows: Sequence[Row], weights: Sequence[float] | None = None) -> float | None:
    """Mean of sum over classes (p - y)^2: seven stations, none, something else; between 0 and 2."""
    if not rows:
        return None
    each = [sum((p - (name == true_class(r))) ** 2 for name, p in r["classes"].items()) for r in rows]
    return float(np.average(each, weights=weights))


def brier_lead(rows: Sequence[Row], weights: Sequence[float] | None = None) -> float | None:
    """Mean of (p - hit)^2 of the leading class alone; between 0 and 1."""
    if not rows:
        return None
    return float(np.average([(r["lead_p"] - right_station(r)) ** 2 for r in rows], weights=weights))


def at_declared_frequency(rows: Sequence[Row], per_thousand: Mapping[str, float]) -> list[float]:
    """Weight of each launch with one declared fault or none, as if faults came as often as their stations say."""
    count = Counter(r["planted"][0]["fault"] if r["planted"] else NONE for r in rows)
    sound = 1.0 - sum(per_thousand.values()) / 1000.0
    share = {name: (sound if name == NONE else per_thousand[name] / 1000.0) / n for name, n in count.items()}
    return [share[r["planted"][0]["fault"] if r["planted"] else NONE] for r in rows]


def reliability(
    rows: Sequence[Row], p: Callable[[Row], float], hit: Callable[[Row], bool], weights: Sequence[float] = ()
) -> list[dict[str, Any]]:
    """Stated probability against the share of hits, in bins; with weights also the weighted share."""
    found = []
    of = {id(r): w for r, w in zip(rows, weights, strict=False)}
    for low, high in zip(BINS[:-1], BINS[1:], strict=True):
        inside = [r for r in rows if low <= p(r) < high or (high == 1.0 and p(r) == 1.0)]
        stated = float(np.mean([p(r) for r in inside])) if inside else None
        entry = {"from": low, "to": high, "stated": stated, **rate([hit(r) for r in inside])}
        if of and inside:
            entry["weighted"] = float(np.average([hit(r) for r in inside], weights=[of[id(r)] for r in inside]))
        found.append(entry)
    return found


def scores(rows: Sequence[Row], per_thousand: Mapping[str, float]) -> dict[str, Any]:
    """All figures of the bench."""
    declared = [r for r in rows if r["kind"] == "declared"]
    seen = [r for r in declared if r["identifiable"]]
    healthy = [r for r in rows if r["kind"] == "healthy"]
    hidden = [r for r in rows if r["kind"] == "undeclared"]
    double = [r for r in rows if r["kind"] == "double"]
    single = [r for r in rows if r["kind"] != "double"]
    usual = declared + healthy
    accusing = [r for r in single if r["lead"] not in (NONE, OTHER)]
    weights = at_declared_frequency(usual, per_thousand)
    sizes = [r["size_inside"] for r in declared if r["size_inside"] is not None]
    return {
        "launches": dict(Counter(r["kind"] for r in rows)),
        "visible": rate([r["visible"] for r in declared]),
        "identifiable": rate([r["identifiable"] for r in declared]),
        "right station, identifiable": rate([right_station(r) for r in seen]),
        "right station, visible": rate([right_station(r) for r in declared if r["visible"]]),
        "right station, identifiable, good lot": rate([right_station(r) for r in seen if r["good_lot"]]),
        "right station, identifiable, no good lot": rate([right_station(r) for r in seen if not r["good_lot"]]),
        "right station, all declared": rate([right_station(r) for r in declared]),
        "right fault, fault identifiable": rate([right_fault(r) for r in declared if r["fault_identifiable"]]),
        "right fault or named alike, identifiable": rate([fault_or_alike(r) for r in seen]),
        "right parts named, identifiable": rate([bool(r["causes"]) and r["causes"][0]["who"] == r["planted"][0]["label"]
                                                 for r in seen]),
        "plain fit: right station, identifiable": rate([plain_right(r) for r in seen]),
        "plain fit: right station, all declared": rate([plain_right(r) for r in declared]),
        "size in its 90 % interval": rate(sizes),
        "healthy accused, scatter 1.0": rate([accused(r) for r in healthy if r["scatter"] == 1.0]),
        "healthy accused, scatter 1.5": rate([accused(r) for r in healthy if r["scatter"] == 1.5]),
        "healthy called healthy": rate([r["lead"] == NONE for r in healthy]),
        "plain fit: healthy accused": rate([r["plain"]["station"] != NONE for r in healthy]),
        "unseen faults accused wrongly": rate([accused(r) and not right_station(r) for r in declared
                                               if not r["visible"]]),
        "undeclared, told apart": rate([r["identifiable"] for r in hidden]),
        "undeclared answered none or something else": rate([r["lead"] in (NONE, OTHER) for r in hidden]),
        "undeclared blamed on a neighbour at P >= 0.7": rate([accused(r) for r in hidden]),
        "undeclared, told apart, blamed at P >= 0.7": rate([accused(r) for r in hidden if r["identifiable"]]),
        "undeclared, of those: its own station": rate([_own(r) for r in hidden if accused(r)]),
        "double, visible: leading station is one of the two": rate([_one_of(r) for r in double if r["visible"]]),
        "double, visible: both stations first": rate([_both(r) for r in double if r["visible"]]),
        "correction brings all back, where one exists": rate(_back(rows)),
        "... where the fault is visible": rate(_back([r for r in rows if r["visible"]])),
        "a setting moved for a fault of the rig alone": rate([_moved(r) for r in rows if r["correction"]["rig"]]),
        "a setting moved in a healthy lot": rate([_moved(r) for r in healthy]),
        "Brier, classes": brier(single),
        "Brier, classes, identifiable or healthy": brier(seen + healthy),
        "Brier, leading": brier_lead(single),
        "Brier, classes, at declared frequency": brier(usual, weights),
        "Brier, leading, at declared frequency": brier_lead(usual, weights),
        "reliability of the leading answer": reliability(usual, lambda r: r["lead_p"], right_station, weights),
        "reliability of an accused station": reliability(
            accusing, lambda r: r["lead_p"], right_station),
        "reliability of the leading fault": reliability(
            [r for r in declared if r["causes"]], lambda r: float(r["causes"][0]["p"]), _cause_right),
        "seconds": {name: _times(rows, name) for name in ("seconds", "cpu")},
    }  # fmt: skip


def _back(rows: Sequence[Row]) -> list[bool]:
    return [r["correction"]["back"] for r in rows if r["correction"]["exists"]]


def _moved(r: Row) -> bool:
    return bool(r["correction"]["verdict"] == "move")


def _times(rows: Sequence[Row], name: str) -> dict[str, float]:
    found = [r[name] for r in rows]
    return {"median": float(np.median(found)), "worst": float(max(found))}


def _cause_right(r: Row) -> bool:
    return bool(r["causes"][0]["name"] == r["planted"][0]["fault"])


def _own(r: Row) -> bool:
    return bool(max(r["stations"].items(), key=lambda item: item[1])[0] == r["planted"][0]["station"])


def _one_of(r: Row) -> bool:
    return r["lead"] in {p["station"] for p in r["planted"]}


def _both(r: Row) -> bool:
    first = sorted(r["stations"], key=lambda name: -r["stations"][name])[:2]
    return set(first) == {p["station"] for p in r["planted"]}


def confusion(rows: Sequence[Row]) -> str:
    """True answer down, leading answer across: identifiable faults, healthy lots, undeclared faults."""
    kept = [
        r for r in rows if r["kind"] in ("healthy", "undeclared") or (r["kind"] == "declared" and r["identifiable"])
    ]
    count = Counter((true_class(r), r["lead"]) for r in kept)
    names = [name for name in SHORT if any(name in pair for pair in count)]
    cells = [[SHORT[a], *(count.get((a, b), 0) or "." for b in names)] for a in names
             if any(pair[0] == a for pair in count)]  # fmt: skip
    return table(["true, down", *(SHORT[name] for name in names)], cells, width=110)


def frequent_confusions(rows: Sequence[Row], most: int = 14) -> str:
    """Planted fault and leading cause, where the station is wrong though the fault is identifiable."""
    wrong = [r for r in rows if r["kind"] == "declared" and r["identifiable"] and not right_station(r)]
    count = Counter((r["planted"][0]["fault"], r["causes"][0]["name"] if r["causes"] else NONE) for r in wrong)
    cells = [[planted, named, n] for (planted, named), n in count.most_common(most)]
    return table(["planted", "named first", "launches"], cells, width=110) if cells else "none"


def report(rows: Sequence[Row], found: Mapping[str, Any]) -> str:
    """The tables as they are printed."""
    cells = []
    for name, value in found.items():
        if isinstance(value, dict) and "share" in value:
            share = "–" if value["share"] is None else f"{100 * value['share']:.1f} %"
            interval = "–" if value["low"] is None else f"{100 * value['low']:.0f} to {100 * value['high']:.0f} %"
            cells.append([name, f"{value['hits']} of {value['of']}", share, interval])
        elif isinstance(value, float):
            cells.append([name, "", f"{value:.3f}", ""])
    parts = [
        f"launches: {', '.join(f'{n} {kind}' for kind, n in sorted(found['launches'].items()))}",
        table(["figure", "launches", "share", "95 % interval"], cells, width=110),
        "Leading answer, identifiable faults and lots without a declared one:\n" + confusion(rows),
        "Wrong station though identifiable:\n" + frequent_confusions(rows),
    ]
    for name, of in RELIABILITY.items():
        lines = [
            [f"{b['from']:g} to {b['to']:g}", b["of"], _percent(b["stated"]), _percent(b["share"]),
             "–" if b["low"] is None else f"{100 * b['low']:.0f} to {100 * b['high']:.0f} %",
             _percent(b.get("weighted"))]
            for b in found[name]
        ]  # fmt: skip
        heads = ("stated", "launches", "mean", "hits", "95 % interval", "at declared frequency")
        parts.append(f"{name.capitalize()}, {of}:\n" + table(heads, lines))
    clock, cpu = found["seconds"]["seconds"], found["seconds"]["cpu"]
    parts.append(
        f"seconds per explanation: median {cpu['median']:.2f}, worst {cpu['worst']:.2f} of the processor; "
        f"median {clock['median']:.2f} by the clock"
    )
    return "\n\n".join(parts)


def _percent(x: float | None) -> str:
    return "–" if x is None else f"{100 * x:.1f} %"
