"""Plan: settle how each station is set, before the first part is made."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from firstoff.chain.blame import cure
from firstoff.chain.order import order
from firstoff.chain.predict import nominal, nominal_status, values_of
from firstoff.chain.station import Characteristic, Plan, Station, Value
from firstoff.errors import InputFault, Message, nearest
from firstoff.families import PlannedStation
from firstoff.launch.job import Job
from firstoff.stations.contradiction import not_whole
from firstoff.stations.settle import beyond, nominals


@dataclass(frozen=True)
class LaunchPlan:
    """The stations in the order in which they are computed, each with its plan, and the part at nominal settings."""

    job: Job
    stations: tuple[Station, ...]
    plans: Mapping[str, Plan]
    nominal: Mapping[str, float]  # characteristic -> SI value of the build with every parameter at its nominal

    @property
    def route(self) -> tuple[PlannedStation, ...]:
        """The stations of this launch in process order."""
        return self.job.family.make(self.job.settings)

    @property
    def rigs(self) -> tuple[PlannedStation, ...]:
        """The check stations in the chain that somebody must set up or be warned of."""
        checks = self.job.family.make_checks(self.job.settings)
        return tuple(s for s in checks if s.name in self.plans and self.plans[s.name].cautions)

    @property
    def characteristics(self) -> dict[str, Characteristic]:
        """Every characteristic that the chain predicts, with the sheet's limits."""
        return {c.name: c for plan in self.plans.values() for c in plan.gives}

    @property
    def measured_only(self) -> list[str]:
        """Characteristics of the sheet that no station computes."""
        return [name for name in self.job.characteristics if name not in self.characteristics]

    @property
    def warnings(self) -> list[Message]:
        """Stations whose model does not hold at the very settings that were planned, and names that look misspelt."""
        found = nominal_status(self.stations, self.plans)
        family = self.job.family
        broken = [
            Message(
                f"op {family.operation(s.name)} is {found[s.name]} at nominal settings: {self._contradiction(s.name)}",
                str(self.job.file),
                key=s.name,
                level="remark",
            )
            for s in self.route
            if s.name in found
        ]
        elsewhere = set(left_out(self))  # a costly check gives them, only not in this chain
        near = {name: nearest(name, self.characteristics) for name in self.measured_only if name not in elsewhere}
        what = "is computed by no station, so its limits only serve readings"
        slips = [
            Message(what, str(self.job.file), key=f"characteristics.{name}", nearest=meant, level="remark")
            for name, meant in near.items()
            if meant
        ]
        return broken + self._wide() + slips

    def _wide(self) -> list[Message]:
        """Parameters whose ordinary scatter leaves the range that is allowed for them."""
        found = []
        for station in self.route:
            for p, v in zip(station.parameters, self.plans[station.name].values, strict=True):
                if beyond(p, v):
                    what = "has a scatter that reaches, within 3 sd, beyond what is allowed for it"
                    file, line, shown = place_of(self.job, v.name)
                    found.append(Message(what, file, line, v.name, shown, f"{p.low} to {p.high}", level="remark"))
        return found

    def _contradiction(self, station: str) -> str:
        """What would put a station right, as far as one value can."""
        found = cure(self.stations, self.plans, values_of(self.stations, self.plans), station)
        if found is None:
            return "its drawing or settings contradict each other, and no single one of them explains it"
        more = "more" if found.change > 0 else "less"
        return f"look at {found.parameter} first; with {100 * abs(found.change):.0f} % {more} of it all others would do"

    def as_dict(self) -> dict[str, Any]:
        """The result as plain values, SI."""
        return {
            "stations": {name: asdict(settled) for name, settled in self.plans.items()},
            "order": [s.name for s in self.stations],
            "nominal": dict(self.nominal),
            "measured_only": self.measured_only,
            "assumptions": self.assumptions(),
        }

    def assumptions(self) -> list[str]:
        """Everything that the plan takes without evidence, each with its source."""
        found = []
        for plan in self.plans.values():
            found += [f"{plan.station}: {text}" for text in plan.assumptions]
            found += [f"{v.name}: {sources(v)}" for v in plan.values if v.assumed]
        return found


def with_checks(plan: LaunchPlan) -> LaunchPlan:
    """The same launch with the check stations in the chain, but for costly ones. InputFault as `plan` does."""
    return _with(plan, [s for s in plan.job.family.make_checks(plan.job.settings) if not s.costly])


def with_asked(plan: LaunchPlan, names: Collection[str]) -> LaunchPlan:
    """The same launch with those costly check stations, and their own faults, that give one of these characteristics.

    One that the sheet limits is left out as well where none of its characteristics is among them.
    """
    checks = [s for s in plan.job.family.make_checks(plan.job.settings) if s.costly]
    gone = {s.name for s in checks if s.name in plan.plans and not set(names) & set(s.gives)}
    if gone:
        plan = _without(plan, gone)
    return _with(plan, [s for s in checks if set(names) & set(s.gives)])


def _without(plan: LaunchPlan, gone: Collection[str]) -> LaunchPlan:
    family = plan.job.family
    own = {f.name for name in gone for f in family.check_faults.get(name, ())}
    shown = replace(family, faults=tuple(f for f in family.faults if f.name not in own))
    plans = {name: settled for name, settled in plan.plans.items() if name not in gone}
    known = {c.name for settled in plans.values() for c in settled.gives}
    kept = {n: v for n, v in plan.nominal.items() if n in known}
    stations = tuple(s for s in plan.stations if s.name not in gone)
    return LaunchPlan(replace(plan.job, family=shown), stations, plans, kept)


def left_out(plan: LaunchPlan) -> list[str]:
    """Characteristics with limits of costly checks that are not in this chain."""
    checks = [s for s in plan.job.family.make_checks(plan.job.settings) if s.costly and s.name not in plan.plans]
    limits = plan.job.settings.limits
    return [n for s in checks for n in s.gives if n in limits and (limits[n].low, limits[n].high) != (None, None)]


def without_unasked(plan: LaunchPlan, names: Collection[str]) -> LaunchPlan:
    """The same launch without the costly checks that give none of these characteristics; their plans stay known."""
    checks = plan.job.family.make_checks(plan.job.settings)
    left = {s.name: s.gives for s in checks if s.costly and not set(names) & set(s.gives)}
    gone = {name for gives in left.values() for name in gives}
    stations = tuple(s for s in plan.stations if s.name not in left)
    return replace(plan, stations=stations, nominal={n: v for n, v in plan.nominal.items() if n not in gone})


def _with(plan: LaunchPlan, stations: Sequence[PlannedStation]) -> LaunchPlan:
    missing = [s for s in stations if s.name not in plan.plans]
    plans, faults = _settled(missing, plan.job)
    if faults:
        raise InputFault(faults)
    whole = {**plan.plans, **plans}
    chain = order((*plan.stations, *missing))
    return LaunchPlan(_showing(plan.job, whole), chain, whole, nominal(chain, whole))


def _showing(job: Job, plans: Mapping[str, Plan]) -> Job:
    """The job with the faults that only these stations can show."""
    family = job.family.showing(plans, {v.name for settled in plans.values() for v in settled.values})
    return job if family is job.family else replace(job, family=family)


def chain_of(job: Job) -> tuple[PlannedStation, ...]:
    """The stations of the route, and the check stations of which the sheet limits a characteristic."""
    limited = {name for name, c in job.characteristics.items() if c.low is not None or c.high is not None}
    checks = job.family.make_checks(job.settings)
    return (*job.family.make(job.settings), *(s for s in checks if limited & set(s.gives)))


def _settled(stations: Sequence[PlannedStation], job: Job) -> tuple[dict[str, Plan], list[Message]]:
    faults: list[Message] = []
    plans: dict[str, Plan] = {}
    for station in stations:
        try:
            plans[station.name] = station.plan(job.settings)
        except InputFault as fault:
            faults += fault.messages
    return plans, faults


def sources(value: Value) -> str:
    """Where a value and its scatter come from, each said once."""
    said: dict[str, None] = {}
    for text in (value.source, *(s.source for s in (value.lot, value.part) if s)):
        said |= dict.fromkeys(text.split("; "))
    return "; ".join(said)


def plan(job: Job) -> LaunchPlan:
    """Settle every station. Raises InputFault with every parameter that is missing or cannot be, of all stations."""
    chain = chain_of(job)
    plans, faults = _settled(chain, job)
    faults = contradictions(job) + faults
    if faults:
        raise InputFault(tuple(dict.fromkeys(faults)))  # several stations may need the same
    stations = order(chain)
    return LaunchPlan(_showing(job, plans), stations, plans, nominal(stations, plans))


def planned(job: Job) -> tuple[LaunchPlan | None, tuple[Message, ...]]:
    """The plan, or None and what the sheet lacks for one: limits alone are enough to prove."""
    try:
        return plan(job), ()
    except InputFault as fault:
        return None, tuple(fault.messages)


def contradictions(job: Job) -> list[Message]:
    """Nominals that exclude each other, as far as the sheets state them: one message each, at its line."""
    stations = job.family.stations
    at = nominals(stations, job.settings)
    found = [*not_whole(stations, at), *job.family.contradictions(at, job.settings)]
    messages = []
    for c in found:
        file, line, shown = place_of(job, c.key)
        messages.append(Message(c.what, file, line, c.key, shown, c.allowed))
    return sorted(messages, key=lambda m: (m.file, m.line))


def place_of(job: Job, name: str) -> tuple[str, int, str]:
    """File, line and text of a parameter as a sheet states it; line 0 and `the default` when none does."""
    file, _, line = job.settings.origin.get(name, "").rpartition(":")
    given = job.settings.given.get(name)
    return (
        str(job.file.parent / file) if file else str(job.file),
        int(line or 0),
        given.text if given else "" if file or "." not in name else "the default",
    )
