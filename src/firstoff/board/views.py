"""What the pages show of plan, prediction and proof: rows of plain texts, each number from the launch's own result."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from firstoff.board.glance import Cause, said_of
from firstoff.board.launches import Judged, Known
from firstoff.board.measures import Measures
from firstoff.chain.predict import Rate
from firstoff.chain.station import Characteristic
from firstoff.launch.account import in_unit, mean_in_unit, named, rate_text
from firstoff.launch.plan import LaunchPlan
from firstoff.launch.prove import Proof, limits_of
from firstoff.launch.setup_pages import operations
from firstoff.methods.conformity import Limits
from firstoff.report.tables import number, probability, share
from firstoff.sheets.units import size_from_si
from firstoff.trials.verdicts import LotVerdict, PartVerdict

PLAIN = Measures()  # everything as the sheets have it
LEAST = 0.005  # share of scatter that is listed
NONE = "–"  # a nominal that is not computed


@dataclass(frozen=True)
class Out:
    """One characteristic: where it lies by plan, by prediction and by readings."""

    name: str
    label: str
    unit: str
    limits: str
    nominal: str
    is_outside: bool
    spread: str
    outside: str
    verdicts: tuple[str, ...]  # one a lot


@dataclass(frozen=True)
class Stop:
    """One station of the route card."""

    name: str
    op: str  # `op 30`, or `rig`
    title: str
    settings: tuple[tuple[str, str], ...]
    out: tuple[Out, ...]
    shares: tuple[tuple[str, str], ...]  # characteristic, share of its scatter: the largest first
    state: str = ""  # bad: a likely cause lies here, or what comes out is bad; good: all that was read conforms
    said: tuple[tuple[str, str], ...] = ()  # kind and words beside its name


class Shares:
    """The shares of scatter of a stored prediction."""

    def __init__(self, prediction: Mapping[str, Any] | None) -> None:
        found = (prediction or {}).get("shares", {})
        self.characteristics: list[str] = found.get("characteristics", [])
        self.stations: list[str] = found.get("stations", [])
        self.parameters: list[str] = found.get("parameters", [])
        self._by_station: list[list[float | None]] = found.get("by_station", [])
        self._by_parameter: list[list[float | None]] = found.get("by_parameter", [])

    def of_station(self, station: str, names: Iterable[str]) -> list[tuple[str, str]]:
        """Characteristic and share, the largest first."""
        if station not in self.stations:
            return []
        row = self._by_station[self.stations.index(station)]
        found = [(name, row[self.characteristics.index(name)]) for name in names if name in self.characteristics]
        return _shown(found)

    def by_station(self, characteristic: str) -> list[tuple[str, str]]:
        return self._column(self.stations, self._by_station, characteristic)

    def by_parameter(self, characteristic: str) -> list[tuple[str, str]]:
        return self._column(self.parameters, self._by_parameter, characteristic)

    def _column(self, names: list[str], rows: list[list[float | None]], of: str) -> list[tuple[str, str]]:
        if of not in self.characteristics:
            return []
        at = self.characteristics.index(of)
        return _shown([(name, row[at]) for name, row in zip(names, rows, strict=True)])


def _shown(found: Sequence[tuple[str, float | None]]) -> list[tuple[str, str]]:
    kept = sorted(((name, x) for name, x in found if x is not None and x >= LEAST), key=lambda item: -item[1])
    return [(name, f"{100.0 * x:.0f} %" if x >= 0.01 else "< 1 %") for name, x in kept]


def route(
    plan: LaunchPlan, prediction: Mapping[str, Any] | None, judged: Judged, causes: Sequence[Cause] = (),
    measures: Measures = PLAIN,
) -> list[Stop]:  # fmt: skip
    """The stations in process order. causes: likely ones, which are said where they lie."""
    shares = Shares(prediction)
    limited = [c.name for c in plan.characteristics.values() if limits_of(c) != Limits()]
    stops = []
    for label, _, station in operations(plan):
        settled = plan.plans[station.name]
        out = tuple(outcome(plan, c, prediction, judged, measures) for c in settled.gives if c.name in limited)
        carried = tuple((n, x) for n, x in shares.of_station(station.name, limited)[:3] if not x.startswith("<"))
        said = said_of(station.name, [v for o in out for v in o.verdicts], causes,
                       any(o.is_outside and o.nominal != NONE for o in out))  # fmt: skip
        state = next((kind for kind in ("bad", "open", "good") if kind in dict(said)), "")
        stops.append(
            Stop(
                station.name, label, station.title,
                tuple((what, measures.words(value)) for what, value in settled.setup), out, carried, state, tuple(said),
            )
        )  # fmt: skip
    return stops


def outcome(
    plan: LaunchPlan, c: Characteristic, prediction: Mapping[str, Any] | None, judged: Judged,
    measures: Measures = PLAIN,
) -> Out:  # fmt: skip
    """One characteristic, as the route card and its own page show it."""
    value = plan.nominal.get(c.name)
    outside = value is None or not ((c.low is None or value >= c.low) and (c.high is None or value <= c.high))
    spread, rate, unit = "", "", measures.unit(c.unit)
    for row in (prediction or {}).get("characteristics", []):
        if row["characteristic"]["name"] == c.name:
            spread, rate = (
                _spread(row["scatter"], unit),
                rate_text(Rate(**row["outside"]) if row["outside"] else None),
            )
    verdicts = judged.proof.judgement.lots if judged.proof else ()
    return Out(
        c.name, named(c), unit, measures.limits(c), in_unit(value, unit, 5), outside, spread, rate,
        tuple(v.verdict for v in verdicts if v.characteristic == c.name),
    )  # fmt: skip


def _spread(scatter: Mapping[str, float] | None, unit: str) -> str:
    if scatter is None:
        return ""
    sd = number(size_from_si(scatter["sd"], unit), 2)
    return f"{mean_in_unit(scatter['mean'], scatter['sd'], unit)} ± {sd}"


@dataclass(frozen=True)
class Verdict:
    """One characteristic of one part. `value` is in SI, to be read by programs; the rest are texts."""

    name: str
    label: str
    unit: str
    value: float
    shown: str
    limits: str
    u: str
    p: str
    word: str
    why: str
    gauge: str


@dataclass(frozen=True)
class Part:
    """One part of a lot, with how its readings were judged."""

    part: str
    lot: str
    readings: int
    good: int
    bad: int
    open: int


def parts(proof: Proof) -> list[Part]:
    """The parts in the order in which they came."""
    found: dict[tuple[str, str], list[PartVerdict]] = {}
    for v in proof.judgement.parts:
        found.setdefault((v.lot, v.part), []).append(v)
    rows = []
    for (lot, part), verdicts in found.items():
        words = [v.verdict for v in verdicts if not (v.low is None and v.high is None)]
        counts = (words.count("conforms"), words.count("does not conform"), words.count("not proven"))
        rows.append(Part(part, lot, sum(v.readings for v in verdicts), *counts))
    return rows


def verdicts(proof: Proof, lot: str, part: str, measures: Measures = PLAIN) -> dict[str, Verdict]:
    """Every characteristic that was read on a part."""
    return {v.characteristic: _verdict(v, proof.characteristics[v.characteristic], measures)
            for v in proof.judgement.parts if (v.lot, v.part) == (lot, part)}  # fmt: skip


def verdicts_on(proof: Proof, characteristic: str, measures: Measures = PLAIN) -> list[tuple[PartVerdict, Verdict]]:
    """Every part on which a characteristic was read."""
    return [(v, _verdict(v, proof.characteristics[characteristic], measures))
            for v in proof.judgement.parts if v.characteristic == characteristic]  # fmt: skip


def _verdict(v: PartVerdict, c: Characteristic, measures: Measures) -> Verdict:
    unit = measures.unit(c.unit)
    u = "" if v.u is None else number(size_from_si(v.u, unit), 2)
    p = "" if v.p_conform is None else probability(v.p_conform)
    return Verdict(c.name, named(c), unit, v.value, in_unit(v.value, unit, 5), measures.limits(c), u, p, v.verdict,
                   measures.words(v.reason), v.gauge)  # fmt: skip


def lots(proof: Proof, measures: Measures = PLAIN) -> dict[str, list[dict[str, Any]]]:
    """lot -> its characteristics, as judged."""
    found: dict[str, list[dict[str, Any]]] = {}
    for v in proof.judgement.lots:
        found.setdefault(v.lot, []).append(_lot(v, proof.characteristics[v.characteristic], measures))
    return found


def _lot(v: LotVerdict, c: Characteristic, measures: Measures) -> dict[str, Any]:
    unit = measures.unit(c.unit)
    outside = "" if v.share_out is None else share(v.share_out)
    return {
        "name": c.name, "label": named(c), "unit": unit, "n": v.n, "mean": in_unit(v.mean, unit, 5),
        "mean_si": v.mean, "sd": "" if v.sd is None else number(size_from_si(v.sd, unit), 2),
        "limits": measures.limits(c), "good": v.conforming, "bad": v.not_conforming, "open": v.not_proven,
        "word": v.verdict, "why": measures.words(v.reason), "outside": outside,
    }  # fmt: skip


def asked(known: Known) -> list[Characteristic]:
    """What a part is to be read for: everything with limits, as the sheet has it."""
    assert known.job is not None
    computed = known.plan.characteristics if known.plan else {}
    everything = {**known.job.characteristics, **{n: c for n, c in computed.items() if n in known.job.characteristics}}
    return [c for c in everything.values() if limits_of(c) != Limits()]
