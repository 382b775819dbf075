"""Test plan: how many first parts, which readings with which gauge, in which order, for the confidence asked."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import Any

from firstoff.chain.station import Characteristic
from firstoff.launch.against import expected_of
from firstoff.launch.job import Job
from firstoff.launch.plan import LaunchPlan
from firstoff.launch.prove import limits_of
from firstoff.methods.conformity import Limits, zones
from firstoff.methods.first_off_size import (
    interval_chance,
    interval_size,
    share_of_success_run,
    share_proven,
    size_for_chance,
)
from firstoff.methods.sampling_plans import (
    AttributePlan,
    attribute_plan,
    demonstration_size,
    size_rounded_up,
    weibull_zero_failure_size,
)
from firstoff.trials.gauges import Gauge, find
from firstoff.trials.test_plan import Ask, SharedOut, share_out

TOLERANCE_SDS = 8.0  # of a tolerance whose scatter nobody knows: Cp 1.33, assumed
LOSING = (
    "A part that is tested to its end may burst or break away: guard closed, shield up, eye protection. A charged "
    "damper is never opened, heated or cut: vent it first, as its maker says."
)
LEAST = 2  # parts that show any scatter at all


@dataclass(frozen=True)
class Asked:
    """One characteristic, SI: what is foreseen of it, how many parts prove it, and what the parts there are prove."""

    name: str
    rule: str  # tolerance interval | success run | no number of parts
    n: int  # parts of a lot that are asked for
    gauge: str
    limits: Limits
    safety: bool
    lost_in: str
    mean: float | None = None  # foreseen
    lot_sd: float | None = None
    sd: float | None = None  # of readings within a lot: parts and the gauge's repeatability
    guard: float = 0.0
    foreseen: str = ""  # where mean and scatter come from
    chance: float | None = None  # that a lot as foreseen is proven with n parts
    n_often: int = 0  # parts with which it is proven four times out of five; 0 where none
    proven: float | None = None  # share inside that the parts there are prove, if all comes out as foreseen
    why: str = ""


@dataclass(frozen=True)
class Life:
    """A life test without failure: parts, and the confidence that the parts there are give."""

    name: str
    what: str
    n: int
    run: str
    reliability: float
    confidence: float
    reached: float
    lost: bool


@dataclass(frozen=True)
class Check:
    """An inspection by attributes."""

    name: str
    what: str
    lot: int
    level: str
    aql: float
    plan: AttributePlan


@dataclass(frozen=True)
class TestPlan:
    """The test plan of a launch."""

    __test__ = False  # no test class, whatever pytest may think of its name
    job: Job
    asked: tuple[Asked, ...]
    life: tuple[Life, ...]
    checks: tuple[Check, ...]
    shared: SharedOut  # of one lot
    lots: int
    wanted: int  # parts of a lot that the confidence asks for
    assumed: tuple[str, ...]
    cautions: tuple[str, ...] = ()

    @property
    def parts(self) -> int:
        return self.shared.parts * self.lots

    def part(self, lot: int, part: int) -> str:
        """`FO-09`, counted through all lots from 0."""
        return f"FO-{lot * self.shared.parts + part + 1:0{max(2, len(str(self.parts)))}d}"

    def as_dict(self) -> dict[str, Any]:
        """The result as plain values, SI."""
        return {
            "parts": self.parts,
            "lots": self.lots,
            "wanted_a_lot": self.wanted,
            "readings": self.shared.readings * self.lots,
            "lost": len(self.shared.lost) * self.lots,
            "characteristics": [asdict(a) for a in self.asked],
            "life_tests": [asdict(x) for x in self.life],
            "attribute_checks": [asdict(c) for c in self.checks],
            "steps": [
                {"name": s.name, "gauge": s.gauge, "lost_in": s.lost_in,
                 "parts": [self.part(lot, p) for lot in range(self.lots) for p in s.parts]}
                for s in self.shared.steps
            ],
            "short": dict(self.shared.short),
            "assumed": list(self.assumed),
        }  # fmt: skip


def test_plan(job: Job, settled: LaunchPlan | None = None) -> TestPlan:
    """How many first parts, which readings on which part, in which order, for the confidence the sheet asks for.

    With a plan, mean and scatter are those the stations predict; else, and for what no station computes, those the
    sheet expects; else a scatter of an eighth of the tolerance is assumed, and one limit alone takes a success run.
    """
    wishes = job.first_offs
    limited = {n: c for n, c in job.characteristics.items() if limits_of(c) != Limits()}
    names = [name for name in limited if settled is not None and name in settled.nominal]
    means, lots, parts = expected_of(settled, names, {}) if settled is not None and names else ({}, {}, {})
    assumed = list(wishes.assumed)
    asked = []
    for name, c in limited.items():
        gauge, _ = find(job.gauges, name, "")
        known = (means[name][""], lots[name], parts[name]) if name in means else None
        asked.append(_asked(job, c, gauge, known, assumed))
    life = [_life(job, i) for i in range(len(wishes.life))]
    checks = tuple(
        Check(x.name, x.what, x.lot, x.level, x.aql, attribute_plan(x.lot, x.level, x.aql)) for x in wishes.checks
    )
    asks = [
        Ask(a.name, a.n, a.gauge, a.lost_in, a.safety and not a.lost_in, wishes.spoils.get(a.name, ())) for a in asked
    ]
    # a life test is of the design: its parts come from all lots together
    asks += [Ask(x.name, -(-x.n // wishes.lots), "", x.name if x.lost else "") for x in life]
    wanted = share_out(asks)
    shared = wanted if wishes.parts is None else share_out(asks, wishes.parts)
    if wishes.parts is None:
        assumed.append("first_offs.parts: as many as the confidence asks for")
    served = {step.name: len(step.parts) for step in shared.steps}
    return TestPlan(
        job, tuple(_reached(a, served.get(a.name, 0), wishes.confidence) for a in asked),
        tuple(replace(x, reached=_confidence(job, i, wishes.lots * served.get(x.name, 0))) for i, x in enumerate(life)),
        checks, shared, wishes.lots, wanted.parts, tuple(dict.fromkeys(assumed)), _cautions(job, settled, shared),
    )  # fmt: skip


def _cautions(job: Job, settled: LaunchPlan | None, shared: SharedOut) -> tuple[str, ...]:
    """Of the stations that test what is read, of the measurements in the plan, and of losing a part."""
    read = {step.name for step in shared.steps}
    stations = settled.stations if settled else ()
    needed = {name for s in stations for name in s.needs}
    plans = (
        [settled.plans[s.name] for s in stations if not needed & set(s.gives)] if settled else []
    )  # tests of function
    said = [text for p in plans if any(c.name in read for c in p.gives) for text in p.cautions]
    said += [m.beware for m in job.family.measurements if m.beware and m.title in shared.lost.values()]
    if shared.lost:
        said.append(LOSING)
    return tuple(dict.fromkeys(said))


def _asked(
    job: Job, c: Characteristic, gauge: Gauge | None, known: tuple[float, float, float] | None, assumed: list[str]
) -> Asked:
    """One characteristic with its size, or the reason why there is none."""
    wishes, limits = job.first_offs, limits_of(c)
    common, repeat = (gauge.common() or 0.0, gauge.repeatability) if gauge and gauge.u is not None else (0.0, 0.0)
    guard = zones(limits, common, job.judging.rule).guard if common > 0.0 else 0.0
    lost = wishes.destructive.get(c.name, "")
    label = gauge.name if gauge else ""
    base = Asked(c.name, "", 0, label, limits, c.safety, lost, guard=guard)
    foreseen = "the stations' prediction"
    if known is None:
        known, foreseen = _stated(job, c, assumed)
    run = demonstration_size(wishes.inside, wishes.confidence)
    if known is None or known[2] <= 0.0:
        why = "its scatter is not known" if known is None else "no scatter between parts is predicted"
        return replace(base, rule="success run", n=run, why=f"{why}: all parts must conform")
    mean, lot, part = known
    sd = (part**2 + repeat**2) ** 0.5
    base = replace(base, mean=mean, lot_sd=lot, sd=sd, foreseen=foreseen)
    of = (limits, mean, sd, guard, wishes.inside, wishes.confidence)
    n = interval_size(*of)
    if n == 0:
        why = "what is foreseen does not keep the limits with the margin asked: move the mean or lessen the scatter"
        return replace(base, rule="no number of parts", n=LEAST, why=why)
    spread = (limits, mean, sd, lot, guard, wishes.inside, wishes.confidence)
    often = size_for_chance(wishes.chance or 0.8, *spread)
    why = ""
    if wishes.chance is not None:
        n, why = (often, "") if often else (n, f"no number of parts gives a chance of {100 * wishes.chance:g} %")
    return replace(base, rule="tolerance interval", n=n, chance=interval_chance(n, *spread), n_often=often, why=why)


def _stated(job: Job, c: Characteristic, assumed: list[str]) -> tuple[tuple[float, float, float] | None, str]:
    """Mean, lot and part scatter that the sheet expects, or that a tolerance lets assume."""
    quantity = job.first_offs.expected.get(c.name)
    if quantity is not None:
        part = quantity.part or quantity.total
        return (quantity.nominal, quantity.lot.sd if quantity.lot else 0.0, part.sd if part else 0.0), "the sheet"
    if c.low is None or c.high is None:
        return None, ""
    assumed.append(
        f"{c.name}: in the middle of its tolerance with a scatter of an eighth of it (Cp 1.33); no station computes "
        "it, and the sheet expects nothing"
    )
    return ((c.low + c.high) / 2.0, 0.0, (c.high - c.low) / TOLERANCE_SDS), "assumed"


def _reached(a: Asked, parts: int, confidence: float) -> Asked:
    """What so many parts prove if all comes out as foreseen."""
    if parts < 1:
        return replace(a, proven=0.0)
    if a.mean is None or a.sd is None:
        return replace(a, proven=share_of_success_run(parts, confidence))
    return replace(a, proven=share_proven(parts, a.limits, a.mean, a.sd, a.guard, confidence) if parts > 1 else 0.0)


def _life(job: Job, index: int) -> Life:
    x = job.first_offs.life[index]
    n = size_rounded_up(weibull_zero_failure_size(x.reliability, x.confidence, x.life, x.run, x.shape))
    return Life(x.name, x.what, n, x.run_text, x.reliability, x.confidence, 0.0, x.destructive)


def _confidence(job: Job, index: int, parts: int) -> float:
    """Confidence of a life test with so many parts: C = 1 - R^(n (run/life)^shape)."""
    x = job.first_offs.life[index]
    return 1.0 - float(x.reliability ** (parts * (x.run / x.life) ** x.shape))
