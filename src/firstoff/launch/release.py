"""Release: hold, concession or release, recommended from the readings, the prediction and the explanation."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from firstoff import __version__
from firstoff.chain.station import Characteristic
from firstoff.launch.explaining.explain import LaunchExplanation, explain
from firstoff.launch.job import Job, sha256
from firstoff.launch.owner import claim
from firstoff.launch.plan import LaunchPlan, left_out
from firstoff.launch.predict import BUILDS, SEED, LaunchPrediction, Progress, pairs_for, predict
from firstoff.launch.prove import Proof, limits_of, prove
from firstoff.launch.write import write_text
from firstoff.methods.conformity import Limits
from firstoff.trials.readings import Trial
from firstoff.trials.release import Case, Likely, Policy, Predicted, Recommendation, Suspicion, recommend


@dataclass(frozen=True)
class LaunchRelease:
    """A recommendation with everything that it rests on."""

    proof: Proof
    prediction: LaunchPrediction | None
    explanations: tuple[LaunchExplanation, ...]  # one a lot
    found: Recommendation
    asked: Mapping[str, Characteristic]
    notes: tuple[str, ...]  # what could not be looked at, and why
    sha256: Mapping[str, str]  # file name -> digest: sheets and readings

    @property
    def job(self) -> Job:
        return self.proof.job

    def as_dict(self) -> dict[str, Any]:
        """The result as plain values, SI."""
        found = asdict(self.found)
        return {
            "recommended": found.pop("word"),
            "signed": False,
            **found,
            "model": self.job.name,
            "revision": self.job.revision,
            "rule": self.proof.rule,
            "readings": self.proof.trial.file,
            "safety": [name for name, c in self.asked.items() if c.safety],
            "rig": [rig_probability(e) for e in self.explanations],
            "notes": list(self.notes),
            "sha256": dict(self.sha256),
        }


def rig_probability(explanation: LaunchExplanation) -> float:
    """Probability that rig or gauge have part in what was read: faults that move readings or the rig's speed."""
    own = {f.name for f in explanation.faults.values() if f.acts != "parameters"}
    return min(1.0, sum(c.probability for c in explanation.found.causes if own & set(c.name.split(" + "))))


def release(
    job: Job, readings: Path, good: Path | None = None, rule: str | None = None, table: str | None = None,
    builds: int = BUILDS, seed: int = SEED, workers: int | None = None, progress: Progress | None = None,
    traces: Sequence[Path] = (),
) -> LaunchRelease:  # fmt: skip
    """Judge, predict and explain, and recommend release, hold or concession. A named person decides.

    A sheet of limits alone is enough: then there is no prediction and no explanation, and the result says so.
    good: readings of a known-good lot on the same rig; traces: raw ones of the parts of either. Raises InputFault for
    faults of the sheet or the readings.
    """
    proof = prove(job, readings, rule, table, traces, good)
    settled = proof.plan
    if settled is None:
        return weigh(proof, None, (), (not_planned(proof),))
    prediction = predict(settled, builds, seed, workers, progress=progress, share_builds=pairs_for(builds))
    if progress:
        progress(0, 1, "comparing the causes")
    explanations, notes = explain_lots(settled, proof.trial, proof.good)
    return weigh(proof, prediction, explanations, notes)


def not_planned(proof: Proof) -> str:
    """What keeps the sheet from being planned, in one line."""
    keys = ", ".join(m.key for m in proof.unplanned[:3])
    more = f" and {len(proof.unplanned) - 3} more" if len(proof.unplanned) > 3 else ""
    return f"the sheet does not plan the stations ({keys}{more}): no prediction and no explanation"


def explain_lots(
    settled: LaunchPlan, trial: Trial, good: Trial | None = None
) -> tuple[tuple[LaunchExplanation, ...], tuple[str, ...]]:
    """One explanation a lot; a lot of which no reading is computed by a station has none, and that is said."""
    found, notes = [], []
    for lot in dict.fromkeys(r.lot for r in trial.readings):
        of_lot = replace(trial, readings=tuple(r for r in trial.readings if r.lot == lot))
        if not any(r.characteristic in settled.nominal for r in of_lot.readings):
            notes.append(
                f"lot {lot or 'without a name'}: none of its readings is computed by a station: no explanation"
            )
            continue
        found.append(explain(settled, of_lot, good))
    return tuple(found), tuple(notes)


def weigh(
    proof: Proof,
    prediction: LaunchPrediction | None,
    explanations: tuple[LaunchExplanation, ...],
    notes: tuple[str, ...] = (),
    policy: Policy | None = None,
) -> LaunchRelease:
    """The recommendation from what was already judged, predicted and explained."""
    job = proof.job
    asked = {n: c for n, c in proof.characteristics.items() if limits_of(c) != Limits()}
    suspicions = tuple(
        Suspicion(e.trial.readings[0].lot, e.found.none, e.found.other, rig_probability(e), e.found.fit, likely(e))
        for e in explanations
    )
    case = Case(
        asked, proof.trial, proof.judgement, job.gauges, proof.rule, job.judging.coverage, job.judging.confidence,
        _predicted(prediction) if prediction else {}, suspicions, policy or Policy(),
        frozenset(left_out(prediction.plan)) if prediction else frozenset(),
    )  # fmt: skip
    file = Path(proof.trial.file)
    files = (file, *(Path(name) for name in dict.fromkeys(r.file for r in proof.trial.runs)))
    digests = {**job.sha256, **{each.name: sha256(each) for each in files}}
    return LaunchRelease(proof, prediction, explanations, recommend(case), asked, notes, digests)


def likely(explanation: LaunchExplanation) -> Likely | None:
    """The cause that stands first, with what its station says about it."""
    first = next(iter(explanation.found.causes), None)
    if first is None:
        return None
    stated = [explanation.faults[name] for name in first.name.split(" + ") if name in explanation.faults]
    confirm, cure, beware = ("; ".join(dict.fromkeys(getattr(f, key) for f in stated if getattr(f, key)))
                             for key in ("confirm", "cure", "beware"))  # fmt: skip
    return Likely(f"{first.title} in {first.who}", first.probability, confirm, cure, beware)


def _predicted(prediction: LaunchPrediction) -> dict[str, Predicted]:
    shares = prediction.shares
    assumed = np.isin(np.array(shares.parameters), np.array(prediction.builds.assumed))
    found = {}
    for c in prediction.builds.characteristics:
        name = c.characteristic.name
        if c.outside is None or name not in shares.characteristics:
            continue
        part = float(np.nansum(shares.total[assumed, shares.characteristics.index(name)]))
        found[name] = Predicted(c.outside.share, c.outside.low, c.outside.high, min(max(part, 0.0), 1.0))
    return found


def write_release(found: LaunchRelease, folder: Path, decided: str = "") -> list[Path]:
    """`release.md`: the recommendation, its reasons, and what is to be done; `decided`: what the records say of it."""
    from firstoff.launch.account import ALWAYS
    from firstoff.launch.account_release import release_text

    job = found.job
    claim(job, folder)
    page = (
        f"# {job.name} {job.revision}".rstrip()
        + f": release\n\n{ALWAYS}\n\n```\n{release_text(found)}\n```\n\n## From\n\n"
    )
    page += "".join(f"- {name}: sha256 {digest}\n" for name, digest in found.sha256.items())
    page += _closing(decided)
    return [write_text(folder / "release.md", page)]


DECIDED = "\n## Decision and record\n"
BY_HAND = "\nDecided by (name): ____________"


def _closing(decided: str) -> str:
    said = f"{DECIDED}\n```\n{decided}\n```\n" if decided else ""
    hand = f"{BY_HAND}  Function: ____________  Signature: ____________  Date: ____________\n"
    return f"{said}{hand}\nfirstoff {__version__}\n"


def write_decided(job: Job, folder: Path, decided: str) -> list[Path]:
    """What the records say, into the `release.md` of the recommendation that was decided on; none without that page."""
    file = folder / "release.md"
    if not file.is_file():
        return []
    claim(job, folder)
    page = file.read_text("utf-8")
    ends = [at for at in (page.rfind(DECIDED), page.rfind(BY_HAND)) if at >= 0]
    return [write_text(file, page[: min(ends, default=len(page))] + _closing(decided))]
