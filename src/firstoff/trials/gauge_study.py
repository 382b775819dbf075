"""A gauge study worked out: variance by repeats and people, bias over the range, agreement of those who sort."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from firstoff.errors import Message
from firstoff.methods.gauge_line import Linearity, linearity
from firstoff.methods.gauge_study import AnovaTable, Components, anova, components
from firstoff.methods.gauge_uncertainty import GaugeUncertainty, deviation_interval, gauge_uncertainty, grr_interval
from firstoff.trials.gauge_file import StudyFile, complete
from firstoff.trials.sorting import Sorting, sorting
from firstoff.trials.table import refuse

POOL = 0.25  # p of the interaction from which on it is pooled into repeatability
CONFIDENCE = 0.95


@dataclass(frozen=True)
class Crossed:
    """Several people, or one, measured the same parts several times; standard deviations, SI, with their interval."""

    appraisers: int
    trials: int
    parts: int
    table: AnovaTable | None  # None for one appraiser
    components: Components
    pooled: bool
    repeatability: tuple[float, float, float]
    reproducibility: float | None  # appraiser and interaction; None for one appraiser
    grr: tuple[float, float, float]
    part: float
    share_of_total: float  # of repeatability and reproducibility in the total standard deviation
    ndc: float  # 1.41 part / grr, not cut to a whole number


@dataclass(frozen=True)
class GaugeStudy:
    """What the files of one gauge's study come to. None: not studied."""

    files: tuple[str, ...]
    unit: str  # as written
    crossed: Crossed | None
    line: Linearity | None
    sorting: Sorting | None
    uncertainty: GaugeUncertainty | None
    confidence: float
    messages: tuple[Message, ...] = ()

    @property
    def repeatability(self) -> float | None:
        """Standard deviation of repeated readings, without the display's step."""
        return self.crossed.repeatability[0] if self.crossed else self.line.s if self.line else None


def work_out(
    files: Sequence[StudyFile], resolution: float = 0.0, reference_u: float = 0.0, confidence: float = CONFIDENCE
) -> GaugeStudy:
    """The study of one gauge from its files: readings of parts, of references, or verdicts.

    resolution: step of the display; reference_u: standard uncertainty of the references; SI, 0 or more; confidence of
    the intervals [1]. Raises InputFault for a study that is not whole, each gap named.
    """
    crossed: Crossed | None = None
    line: Linearity | None = None
    sorted_ones: Sorting | None = None
    for file in files:
        try:
            if "verdict" in file.columns:
                sorted_ones = sorting(file, confidence)
                continue
            if "part" in file.columns and ("appraiser" in file.columns or "reference" not in file.columns):
                crossed = _crossed(file, confidence)
            if "reference" in file.columns:
                pairs = [(e.reference or 0.0, e.value or 0.0) for e in file.entries]
                line = linearity([x for x, _ in pairs], [y for _, y in pairs], 1.0 - confidence)
        except ValueError as error:
            raise refuse(file.file, f"cannot be worked out: {error}") from error
    u = None
    if crossed or line:
        ev = crossed.repeatability[0] if crossed else line.s if line else None
        av = crossed.reproducibility if crossed else None
        u = gauge_uncertainty(ev, av, line.largest if line else None, line.largest_error if line else None, resolution,
                              reference_u)  # fmt: skip
    unit = next((f.unit for f in files if f.unit), "")
    messages = _remarks(files[0].file, crossed, line, sorted_ones)
    return GaugeStudy(tuple(Path(f.file).name for f in files), unit, crossed, line, sorted_ones, u, confidence,
                      tuple(messages))  # fmt: skip


def _remarks(file: str, crossed: Crossed | None, line: Linearity | None, found: Sorting | None) -> list[Message]:
    said = []
    if found is None and line is None:
        said.append("bias was not studied: u holds none; readings of references of known value would show it")
    if found is None and (crossed is None or crossed.reproducibility is None):
        said.append("one person only, or none named: u holds no difference between people")
    if crossed and crossed.appraisers > 1 and crossed.parts * crossed.appraisers < 15:
        said.append(f"{crossed.parts} parts and {crossed.appraisers} people are few: see the intervals")
    return [Message(text, file, level="remark") for text in said]


def _crossed(file: StudyFile, confidence: float) -> Crossed:
    cells = complete(file)
    people, parts = (list(dict.fromkeys(key[i] for key in cells)) for i in (0, 1))
    values = np.array([[[e.value for e in cells[a, p]] for p in parts] for a in people], dtype=float)
    table = np.swapaxes(values, 1, 2)  # (appraiser, trial, part)
    appraisers, trials, count = table.shape
    if trials < 2:
        raise ValueError("every part must be measured twice or more by each person")
    if appraisers < 2:
        return _one_person(table[0], confidence)
    if count < 2:
        raise ValueError("two parts or more are needed")
    found = anova(table)
    pooled = found.p_interaction > POOL
    parts_of = components(table, pooled)
    av2 = parts_of.appraiser + parts_of.interaction
    grr = math.sqrt(parts_of.repeatability + av2)
    df = found.df["repeatability"] + (found.df["appraiser_x_part"] if pooled else 0)
    ev = math.sqrt(parts_of.repeatability)
    low, high = grr_interval(found, parts_of, appraisers, trials, count, confidence)
    return _of(appraisers, trials, count, found, parts_of, pooled, (ev, *deviation_interval(ev, df, confidence)),
               math.sqrt(av2), (grr, min(low, grr), max(high, grr)))  # fmt: skip


def _one_person(table: npt.NDArray[np.float64], confidence: float) -> Crossed:
    """Repeatability alone: one-way analysis of variance over the parts (trial, part)."""
    trials, parts = table.shape
    within = float(((table - table.mean(axis=0)) ** 2).sum()) / (parts * (trials - 1))
    if within <= 1e-24 * float((table**2).mean()):
        raise ValueError("repeated readings are all equal, so repeatability cannot be told")
    between = float(table.mean(axis=0).var(ddof=1)) - within / trials if parts > 1 else 0.0
    ev = math.sqrt(within)
    interval = (ev, *deviation_interval(ev, parts * (trials - 1), confidence))
    found = Components(within, 0.0, 0.0, max(0.0, between))
    return _of(1, trials, parts, None, found, True, interval, None, interval)


def _of(
    appraisers: int, trials: int, parts: int, table: AnovaTable | None, found: Components, pooled: bool,
    ev: tuple[float, float, float], av: float | None, grr: tuple[float, float, float],
) -> Crossed:  # fmt: skip
    part = math.sqrt(found.part)
    total = math.hypot(grr[0], part)
    return Crossed(appraisers, trials, parts, table, found, pooled, ev, av, grr, part, grr[0] / total,
                   1.41 * part / grr[0])  # fmt: skip
