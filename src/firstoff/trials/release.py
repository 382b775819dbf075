"""Release, hold or concession: what the evidence recommends. A named person decides.

A prediction may hold a release; only readings may release a safety characteristic.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from firstoff.chain.station import Characteristic
from firstoff.trials.gauges import Gauge
from firstoff.trials.missing import Missing
from firstoff.trials.readings import Trial
from firstoff.trials.verdicts import Judgement, LotVerdict, PartVerdict

Word = Literal["release", "concession", "hold"]
Basis = Literal["readings", "prediction", "nothing"]
Kind = Literal[
    "conforms", "fails", "not proven", "not read", "part not read", "part not proven", "gauge assumed", "by prediction",
    "prediction", "concession", "rig", "misfit", "undeclared",
]  # fmt: skip
ORDER: tuple[Word, ...] = ("release", "concession", "hold")  # the worst one counts


@dataclass(frozen=True)
class Policy:
    """Where the lines are drawn. All assumed (common practice, no source), and printed with every recommendation."""

    concession: float = 0.10  # of the tolerance (of the limit, where there is only one) a concession may ask for
    rig: float = 0.20  # probability of a fault of rig or gauge from which on the test has to be repeated
    undeclared: float = 0.20  # probability of something that no station declares, likewise
    cause: float = 0.50  # probability of a cause from which on it is to be confirmed
    misfit: float = 0.01  # probability of a worse fit than that of the best cause, below which nothing is understood
    echo: float = 0.50  # share of the scatter that is assumed from which on a prediction only echoes it


@dataclass(frozen=True)
class Predicted:
    """What trial builds say of a characteristic: the share outside its limits with its 95 % interval."""

    share: float
    low: float
    high: float
    assumed: float  # share of its scatter that comes from assumed spreads


@dataclass(frozen=True)
class Likely:
    """The cause that an explanation puts first, in the words of its station."""

    title: str
    probability: float
    confirm: str = ""
    cure: str = ""
    beware: str = ""


@dataclass(frozen=True)
class Suspicion:
    """What an explanation says of one lot."""

    lot: str
    none: float  # probability that nothing is wrong
    other: float  # that it is something nobody declared
    rig: float  # that rig or gauge have part in it
    fit: float
    likely: Likely | None = None


@dataclass(frozen=True)
class Reason:
    """Why, in shop words, and what it alone would recommend."""

    kind: Kind
    word: Word
    what: str


@dataclass(frozen=True)
class Concession:
    """What the customer would be asked for, SI. Limits: those that the lot is proven to keep."""

    low: float | None
    high: float | None
    beyond: float  # farthest side over its limit, as a share of the tolerance
    worst: float  # reading farthest outside
    parts_outside: int
    parts: int
    share_out: float | None  # of the lot outside the drawing's limits
    share_out_high: float | None


@dataclass(frozen=True)
class Finding:
    """One characteristic of one lot."""

    characteristic: str
    lot: str
    safety: bool
    word: Word
    basis: Basis
    reasons: tuple[Reason, ...]
    missing: Missing | None = None
    concession: Concession | None = None
    new_lot: int | None = None  # parts that would prove a centred lot of this scatter


@dataclass(frozen=True)
class Action:
    """What has to be done, and what closes it."""

    what: str
    closes: str


@dataclass(frozen=True)
class Recommendation:
    """The worst of all findings and reasons. Unsigned: a named person decides."""

    word: Word
    findings: tuple[Finding, ...]
    reasons: tuple[Reason, ...]  # of the trial as a whole
    actions: tuple[Action, ...]
    cautions: tuple[str, ...]
    policy: Policy


@dataclass(frozen=True)
class Case:
    """Everything the rules look at."""

    asked: Mapping[str, Characteristic]  # with limits
    trial: Trial
    judgement: Judgement
    gauges: Mapping[str, Gauge]
    rule: str
    coverage: float = 0.95
    confidence: float = 0.95
    predicted: Mapping[str, Predicted] = field(default_factory=dict)
    suspicions: tuple[Suspicion, ...] = ()
    policy: Policy = Policy()
    left_out: frozenset[str] = frozenset()  # could be predicted, and was not: a station that takes its time

    def lots(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(r.lot for r in self.trial.readings))

    def lot_verdict(self, name: str, lot: str) -> LotVerdict | None:
        return next((v for v in self.judgement.lots if (v.characteristic, v.lot) == (name, lot)), None)

    def parts_of(self, name: str, lot: str) -> list[PartVerdict]:
        return [v for v in self.judgement.parts if (v.characteristic, v.lot) == (name, lot)]

    def likely(self) -> list[Likely]:
        """Causes that are to be confirmed."""
        found = (s.likely for s in self.suspicions)
        return [c for c in found if c is not None and c.probability >= self.policy.cause]


def worst(words: Sequence[Word]) -> Word:
    """Hold before concession before release; release when there is nothing against it."""
    return max(words, key=ORDER.index, default="release")


def recommend(case: Case) -> Recommendation:
    """Release only when every asked characteristic of every lot says so and nothing about the trial speaks against it.

    A trial without readings, or without asked characteristics, is held. Raises nothing: every state of the evidence
    has an answer.
    """
    from firstoff.trials.release_rules import actions_of, finding, reasons_of_trial

    findings = tuple(finding(case, name, lot) for lot in case.lots() for name in case.asked)
    reasons = reasons_of_trial(case)
    words = [f.word for f in findings] + [r.word for r in reasons]
    word: Word = worst(words) if findings else "hold"
    actions = actions_of(case, findings, reasons)
    return Recommendation(word, findings, reasons, actions, _cautions(case, findings), case.policy)


def _cautions(case: Case, findings: Sequence[Finding]) -> tuple[str, ...]:
    lots = case.lots()
    said = []
    if len(lots) == 1:
        said.append("First-offs of one lot show one lot: what other lots of parts and material do, only they can show.")
    if not case.suspicions:
        said.append("Nobody has looked whether the rig is at fault: these readings could not be explained.")
    elif min(s.none for s in case.suspicions) < 0.5 and worst([f.word for f in findings]) == "release":
        said.append("The readings lie inside their limits, and yet something is likely off: see the causes.")
    if any(f.basis == "prediction" and f.word == "release" for f in findings):
        said.append("What is released on a prediction was not measured on any part of this trial.")
    loose = [f for f in findings if f.word != "hold" and any(r.kind == "part not proven" for r in f.reasons)]
    if loose:
        names = ", ".join(dict.fromkeys(f.characteristic for f in loose))
        said.append(f"Parts that are not proven one by one ({names}) stay back or are read again before they are used.")
    said += dict.fromkeys(likely.beware for likely in case.likely() if likely.beware)
    return tuple(said)
