"""Which test on which part, in which order: few parts are lost, and no reading is spoilt by an earlier test."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Ask:
    """One characteristic, or one test, on so many parts of a lot."""

    name: str
    parts: int
    gauge: str = ""
    lost_in: str = ""  # name of the test in which the part is lost; empty: nothing is lost
    every: bool = False  # read on every part there is
    spoils: tuple[str, ...] = ()  # can no longer be read on a part afterwards


@dataclass(frozen=True)
class Step:
    """One line of the order of work: the same test on several parts of a lot, numbered from 0."""

    name: str
    gauge: str
    parts: tuple[int, ...]
    lost_in: str = ""


@dataclass(frozen=True)
class SharedOut:
    """The tests of one lot's parts, in their order."""

    parts: int
    steps: tuple[Step, ...]
    lost: Mapping[int, str] = field(default_factory=dict)  # part -> test in which it is lost
    short: Mapping[str, int] = field(default_factory=dict)  # name -> parts that are missing

    @property
    def readings(self) -> int:
        return sum(len(step.parts) for step in self.steps)


def in_order(asks: Sequence[Ask]) -> list[Ask]:
    """The asks in an order in which none spoils a later one: nothing lost first, then one gauge after the other.

    As stated where nothing speaks against it. Raises ValueError naming those that spoil each other.
    """
    left = sorted(asks, key=lambda ask: bool(ask.lost_in))
    done: list[Ask] = []
    while left:
        # a test that loses the part can only spoil what is read in that very test; what would spoil such a test is
        # read on other parts
        free = [a for a in left if not any(x.name in a.spoils and x is not a and x.lost_in == a.lost_in for x in left)]
        # what loses the part waits for everything that does not
        free = [ask for ask in free if not ask.lost_in] or [a for a in free if all(x.lost_in for x in left)]
        if not free:
            torn = [ask.name for ask in left if ask.spoils and not ask.lost_in] or [ask.name for ask in left]
            raise ValueError(f"{', '.join(torn)} spoil each other: no order lets all of them be read")
        same = [ask for ask in free if done and ask.gauge and ask.gauge == done[-1].gauge]
        done.append((same or free)[0])
        left.remove(done[-1])
    return done


def share_out(asks: Sequence[Ask], available: int | None = None) -> SharedOut:
    """Parts and their tests for one lot.

    Each test that loses the part gets parts of its own, from the last one backwards; readings of one such test come
    from the same parts. Everything else is read before, on the first parts; what would spoil such a test, on parts that
    are not for it. As many parts as the largest need of what loses none, or as all tests that lose parts together,
    whichever is more; no more than are `available`: then the tests that lose parts take turns, and
    `short` says what is missing. Raises ValueError as :func:`in_order`.
    """
    ordered = in_order(asks)
    wanted: dict[str, int] = {}
    for ask in ordered:
        if ask.lost_in:
            wanted[ask.lost_in] = max(wanted.get(ask.lost_in, 0), ask.parts)
    barred = {ask.name: {x.lost_in for x in ordered if x.lost_in and x.name in ask.spoils} for ask in ordered}
    own = [ask.parts + sum(wanted[test] for test in barred[ask.name]) for ask in ordered if not ask.lost_in]
    count = max([*own, sum(wanted.values())])
    count = count if available is None else min(count, available)
    lost = _lost(wanted, count)
    steps, short = [], {}
    for ask in ordered:
        fit = [p for p in range(count) if _fits(ask, lost.get(p, ""), barred[ask.name])]
        parts = tuple(fit if ask.every and not ask.lost_in else fit[: ask.parts])
        if parts:
            steps.append(Step(ask.name, ask.gauge, parts, ask.lost_in))
        if len(parts) < ask.parts:
            short[ask.name] = ask.parts - len(parts)
    return SharedOut(count, tuple(steps), lost, short)


def _fits(ask: Ask, lost_in: str, barred: Collection[str]) -> bool:
    """Whether a part, lost in this test or in none, may bear the reading."""
    return lost_in == ask.lost_in if ask.lost_in else lost_in not in barred


def _lost(wanted: Mapping[str, int], count: int) -> dict[int, str]:
    """Part -> test in which it is lost; each test gets one part in turn until all are served or no part is left."""
    given = dict.fromkeys(wanted, 0)
    left = count
    while left and any(given[test] < n for test, n in wanted.items()):
        for test, n in wanted.items():
            if left and given[test] < n:
                given[test] += 1
                left -= 1
    lost: dict[int, str] = {}
    last = count
    for test in reversed(list(wanted)):
        for _ in range(given[test]):
            last -= 1
            lost[last] = test
    return dict(sorted(lost.items()))


def by_part(found: SharedOut) -> dict[int, list[Step]]:
    """Part -> its tests in their order."""
    return {part: [step for step in found.steps if part in step.parts] for part in range(found.parts)}


def spoilt(steps: Iterable[Step], spoils: Mapping[str, Iterable[str]]) -> list[tuple[int, str, str]]:
    """(part, reading, what spoilt it) of an order of work; empty for a good one."""
    ruined: dict[int, dict[str, str]] = {}
    found = []
    for step in steps:
        for part in step.parts:
            of = ruined.setdefault(part, {})
            why = of.get(step.name) or (of[""] if "" in of and of[""] != step.lost_in else "")
            if why:
                found.append((part, step.name, why))
            for name in spoils.get(step.name, ()):
                if name != step.name:
                    of.setdefault(name, step.name)
            if step.lost_in:
                of[""] = step.lost_in
    return found
