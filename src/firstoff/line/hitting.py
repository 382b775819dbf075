"""A least set that shares a member with each of many sets: what the search for a smallest conflict asks each time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeVar

Member = TypeVar("Member")


def smallest_hitting(members: Sequence[Member], sets: Sequence[frozenset[Member]]) -> tuple[Member, ...]:
    """Fewest of the members with one of each set among them, in the order of the members."""
    if not sets:
        return ()
    from ortools.sat.python import cp_model

    model: Any = cp_model.CpModel()
    chosen = {member: model.new_bool_var(str(member)) for member in members}
    for each in sets:
        model.add_bool_or([chosen[member] for member in members if member in each])
    model.minimize(sum(chosen.values()))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.solve(model)
    return tuple(member for member in members if solver.value(chosen[member]))
