"""Choose: the customer's table of forces met by real parts of the plant's bin."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from firstoff.chain.predict import in_order
from firstoff.errors import InputFault, Message
from firstoff.launch.job import Job, sha256
from firstoff.launch.plan import LaunchPlan
from firstoff.launch.predict import BUILDS, SEED, Progress, workers_here
from firstoff.launch.valve_choice.bin import read_bin
from firstoff.launch.valve_choice.need import Need, needs
from firstoff.launch.valve_choice.search import PILOT, Choice, Search, difference
from firstoff.launch.valve_choice.trials import CommonDraws
from firstoff.stations.damper.bin_parts import Bin
from firstoff.stations.damper.valve_search import Table, meeting

SHOWN = 10  # valves in the account
ROUNDS = ((128, 512), (32, 4096))  # how many valves go to so many trial builds, before the last round
EXACT = 1e-7  # relative, within which the search and the whole chain must give one force


@dataclass(frozen=True)
class LaunchChoice:
    """What the bin has for the table."""

    plan: LaunchPlan
    bin: Bin
    tables: tuple[Table, Table]
    quantity: int  # of dampers
    builds: int
    seed: int
    combinations: int
    meeting: int  # keep every limit at nominal
    computed: int  # curves by the kernel
    lifted: bool
    dropped: Mapping[str, int]
    present: Choice  # as the sheet has it
    choices: tuple[Choice, ...]  # best first; the nearest misses when nothing meets the table
    verified: float  # largest relative difference of a force between search and chain
    needs: tuple[Need, ...] = ()
    sha256: Mapping[str, str] = field(default_factory=dict)
    remarks: tuple[Message, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """The result as plain values, SI."""
        from firstoff.launch.valve_choice.plain_values import as_dict

        return as_dict(self)


def bin_of(job: Job, named: Path | None = None) -> tuple[Bin, tuple[Message, ...], Path]:
    """The bin that is named, or that the plant sheet names. InputFault when there is none or it is faulty."""
    path = named or job.parts
    if path is None:
        what, allowed = "no parts bin is named", '--bin FILE, or in the plant sheet: [plant] parts = "parts.toml"'
        raise InputFault([Message(what, str(job.file), allowed=allowed)])
    found, remarks = read_bin(path)
    return found, remarks, path


def choose(
    plan: LaunchPlan, parts: Bin, quantity: int = 1000, builds: int = BUILDS, seed: int = SEED,
    workers: int | None = None, progress: Progress | None = None,
) -> LaunchChoice:  # fmt: skip
    """The valves of the bin that meet the customer's table with the fewest rejects, or the nearest miss and its cure.

    Every combination is weighed at nominal; the promising ones are ranked by trial builds from the same draws. The
    same seed gives the same numbers for any number of workers. InputFault when the parts do not fit together.
    """
    count = workers or workers_here()
    say = progress or (lambda done, total, note: None)
    say(0, 1, "weighing every combination")
    search = Search(plan, parts, quantity, count)
    inside = meeting(search.field)
    present = search.present()
    dropped = {**search.sets[0].dropped}
    for what, n in search.sets[1].dropped.items():
        dropped[what] = dropped.get(what, 0) + n
    if inside:
        present, made, off = _ranked(search, present, builds, seed, count, say)
    else:
        say(0, 1, "solving for what would do")
        pairs = search.nearest(SHOWN)
        made = [search.choice(p, b) for p, b in pairs]
        off = max(difference(search, c, pair) for c, pair in zip(made, pairs, strict=True))
    if off > EXACT:
        raise RuntimeError(f"search and chain differ by {off:.1e} of a force")
    wanted = () if inside else tuple(needs(plan, made[0].plans, search.tables))
    return LaunchChoice(
        plan, parts, search.tables, quantity, builds, seed, search.field.pairs, inside, search.field.computed,
        search.field.lifted, dropped, present, tuple(replace(c, title=str(i)) for i, c in enumerate(made, 1)), off,
        wanted,
    )  # fmt: skip


def _ranked(
    search: Search, present: Choice, builds: int, seed: int, workers: int, say: Progress
) -> tuple[Choice, list[Choice], float]:
    """The present valve and the best ones with their trial builds, and how far search and chain differ."""
    say(0, 1, "scatter of the valves that can keep the limits")
    pairs = search.promising(ROUNDS[0][0], search.spreads(present, seed, workers, min(PILOT, builds)))
    pairs = pairs or search.nearest(SHOWN)  # at a limit to the last digit, room may round to the other side
    left = [search.choice(p, b) for p, b in pairs]
    off = max(difference(search, c, pair) for c, pair in zip(left, pairs, strict=True))
    draws = CommonDraws(search.plan, [present.plans, *(c.plans for c in left)], seed)
    for keep, trials in (*ROUNDS, (SHOWN, builds)):
        left = left[:keep]
        trials = min(trials, builds)
        draws.prepare(trials)
        say(0, 1, f"trial builds, {len(left)} valves of {trials}")
        found = in_order(draws.of, [c.plans for c in left], workers)
        left = sorted((replace(c, trial=t) for c, t in zip(left, found, strict=True)), key=lambda c: c.key)
    return replace(present, trial=draws.of(present.plans)), left, off


def choose_valve(
    plan: LaunchPlan, named: Path | None = None, quantity: int = 1000, builds: int = BUILDS, seed: int = SEED,
    workers: int | None = None, progress: Progress | None = None,
) -> LaunchChoice:  # fmt: skip
    """`choose` from the bin that is named, or that the plant sheet names."""
    parts, remarks, path = bin_of(plan.job, named)
    found = choose(plan, parts, quantity, builds, seed, workers, progress)
    return replace(found, sha256={**plan.job.sha256, path.name: sha256(path)}, remarks=remarks)
