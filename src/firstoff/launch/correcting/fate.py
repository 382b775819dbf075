"""What becomes of the parts already made: by their readings' verdicts, and by what most likely is wrong."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from firstoff.chain.fault import Cure, Fault
from firstoff.launch.correcting.ways import Way
from firstoff.launch.explaining.explain import LaunchExplanation
from firstoff.launch.prove import limits_of
from firstoff.launch.readable import readable
from firstoff.trials.verdicts import Judgement, PartVerdict, judge

Do = Literal["use", "use after retest", "rework", "scrap", "hold"]


@dataclass(frozen=True)
class PartFate:
    """What to do with one part, and why."""

    part: str
    do: Do
    affected: bool  # by the most probable cause
    out: tuple[str, ...]  # characteristics for whose sake
    why: str


def judgement_of(explanation: LaunchExplanation) -> Judgement:
    """The verdicts on the trial's readings."""
    job = explanation.plan.job
    limits = {n: limits_of(c) for n, c in readable(job, explanation.plan).items()}
    judging = job.judging
    sure = (judging.rule, judging.coverage, judging.confidence)
    return judge(explanation.trial, limits, job.gauges, *sure, distributions=job.distributions)


def fates(
    explanation: LaunchExplanation, judgement: Judgement, top: Way, rig: float, cures: Mapping[str, Cure]
) -> tuple[PartFate, ...]:
    """One answer a part. rig: probability that rig or gauge is to blame; then readings say nothing about the parts."""
    by_part: dict[str, list[PartVerdict]] = {}
    for verdict in judgement.parts:
        if (verdict.low, verdict.high) != (None, None):
            by_part.setdefault(verdict.part, []).append(verdict)
    scene = explanation.scene
    groups = dict(zip(scene.parts, scene.groups, strict=True))
    faults = [explanation.faults[n] for n in top.name.split(" + ") if n in explanation.faults]
    found = []
    for part, verdicts in by_part.items():
        label = top.who.split(" ", 1)
        affected = bool(faults) and (top.who == "all parts" or label[1] in (part, groups.get(part, "")))
        found.append(_fate(part, verdicts, affected, faults, rig, cures))
    return tuple(found)


def _fate(
    part: str, verdicts: Sequence[PartVerdict], affected: bool, faults: Sequence[Fault], rig: float,
    cures: Mapping[str, Cure],
) -> PartFate:  # fmt: skip
    bad = tuple(v.characteristic for v in verdicts if v.verdict == "does not conform")
    unproven = tuple(v.characteristic for v in verdicts if v.verdict == "not proven")
    if rig >= 0.5:
        return PartFate(part, "use after retest", affected, bad, "the rig is the likely cause: it judges no part")
    if bad and rig >= 0.1:
        return PartFate(part, "hold", affected, bad, "the rig may be to blame: check it, and test again")
    if bad and not affected:
        return PartFate(part, "hold", affected, bad, "out of limits, but not by the cause named: look for another")
    if bad:
        do: Do = "rework" if all(cures[f.name].parts == "rework" for f in faults) else "scrap"
        return PartFate(part, do, affected, bad, "out of limits, with the cause inside")
    if unproven:
        return PartFate(part, "use after retest", affected, unproven, "not proven: read again, with less error")
    if affected and any(f.kind == "discrete" for f in faults):
        return PartFate(part, "hold", affected, (), "good readings, but likely a wrong or missing component inside")
    return PartFate(part, "use", affected, (), "all that was read conforms")
