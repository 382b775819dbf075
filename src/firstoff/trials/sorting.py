"""People who sort parts by eye or with a go and no-go gauge: do they agree with themselves and with the reference?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstoff.errors import Message
from firstoff.methods.kappa import Agreement, cohen_by_part, fleiss, proportion
from firstoff.trials.gauge_file import Entry, StudyFile, complete
from firstoff.trials.table import raise_if

GOOD = frozenset(("ok", "pass", "good", "accept", "accepted", "conforms", "io", "i.o.", "go", "yes", "1"))
Share = tuple[float, float, float]  # and its interval


@dataclass(frozen=True)
class Sorter:
    """One person. None: no reference, one trial only, or one category only."""

    name: str
    with_self: Share | None  # parts judged alike in all trials
    effectiveness: Share | None  # parts judged right in all trials
    against_reference: Agreement | None  # Cohen's kappa
    missed: Share | None  # bad parts' verdicts that let them pass
    false_alarms: Share | None  # good parts' verdicts that refused them


@dataclass(frozen=True)
class Sorting:
    """A study of verdicts."""

    parts: int
    trials: int
    categories: tuple[str, ...]
    sorters: tuple[Sorter, ...]
    together: Share  # parts on which all verdicts of all people agree
    together_right: Share | None  # and agree with the reference
    between: Agreement | None  # Fleiss' kappa of all verdicts


def sorting(file: StudyFile, confidence: float) -> Sorting:
    """The agreement in a study of verdicts. Raises InputFault for gaps and for references that contradict."""
    cells = complete(file)
    people, parts = (list(dict.fromkeys(key[i] for key in cells)) for i in (0, 1))
    right = _references(file, parts) if "reference" in file.columns else {}
    words = dict.fromkeys([e.verdict for e in file.entries] + list(right.values()))
    categories = tuple(sorted(words, key=lambda w: (w not in GOOD, w)))
    trials = len(next(iter(cells.values())))
    sorters = tuple(
        _sorter(person, [cells[person, p] for p in parts], right, categories, confidence) for person in people
    )
    by_part = {p: [e.verdict for person in people for e in cells[person, p]] for p in parts}
    counts = [[by_part[p].count(c) for c in categories] for p in parts]
    alike = sum(len(set(of)) == 1 for of in by_part.values())
    correct = sum(set(of) == {right[p]} for p, of in by_part.items()) if right else None
    return Sorting(
        len(parts), trials, categories, sorters, proportion(alike, len(parts), confidence),
        None if correct is None else proportion(correct, len(parts), confidence), _fleiss(counts, confidence),
    )  # fmt: skip


def _fleiss(counts: Sequence[Sequence[int]], confidence: float) -> Agreement | None:
    try:
        return fleiss(np.array(counts), confidence)
    except ValueError:  # one category, or one verdict a part: nothing to compare
        return None


def _references(file: StudyFile, parts: Sequence[str]) -> dict[str, str]:
    right: dict[str, str] = {}
    faults: list[Message] = []
    for e in file.entries:
        if right.setdefault(e.part, e.right) != e.right:
            what = "has two references"
            faults.append(Message(what, file.file, e.line, f"part {e.part}", e.right, right[e.part]))
    raise_if(faults, file.file)
    return {part: right[part] for part in parts}


def _sorter(
    name: str, of: Sequence[Sequence[Entry]], right: dict[str, str], categories: tuple[str, ...], confidence: float
) -> Sorter:
    n, several = len(of), len(of[0]) > 1
    alike = sum(len({e.verdict for e in cell}) == 1 for cell in of)
    with_self = proportion(alike, n, confidence) if several else None
    if not right:
        return Sorter(name, with_self, None, None, None, None)
    correct = sum(all(e.verdict == right[e.part] for e in cell) for cell in of)
    tables = np.zeros((n, len(categories), len(categories)), dtype=np.int64)
    for table, cell in zip(tables, of, strict=True):
        for e in cell:
            table[categories.index(right[e.part]), categories.index(e.verdict)] += 1
    try:
        kappa = cohen_by_part(tables, confidence)
    except ValueError:
        kappa = None
    total = tables.sum(axis=0)
    missed = false = None
    if len(categories) == 2 and categories[0] in GOOD and categories[1] not in GOOD:
        missed = proportion(int(total[1, 0]), int(total[1].sum()), confidence) if total[1].sum() else None
        false = proportion(int(total[0, 1]), int(total[0].sum()), confidence) if total[0].sum() else None
    return Sorter(name, with_self, proportion(correct, n, confidence), kappa, missed, false)
