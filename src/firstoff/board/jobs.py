"""Work that takes longer than a page may: asked for, taken by one worker, reported, stopped, kept over a restart."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from sqlalchemy import Engine, RowMapping, select
from sqlalchemy.dialects.sqlite import insert

from firstoff.board import database
from firstoff.board.database import jobs, now

KINDS = ("predict", "explain", "correct", "release", "report", "line")
OPEN = ("queued", "running")
MOST_ATTEMPTS = 2  # a job that ends its worker twice is not tried again


@dataclass(frozen=True)
class Work:
    """One job: its state is queued, running, done, failed or stopped."""

    id: int
    launch: str
    kind: str
    state: str
    person: str
    asked: str
    ended: str
    done: int
    total: int
    note: str
    message: str
    attempts: int
    stop: bool

    @property
    def open(self) -> bool:
        return self.state in OPEN


def _work(row: RowMapping) -> Work:
    words = {name: row[name] or "" for name in
             ("launch", "kind", "state", "person", "asked", "ended", "note", "message")}  # fmt: skip
    return Work(id=row["id"], done=row["done"] or 0, total=row["total"] or 0, attempts=row["attempts"] or 0,
                stop=bool(row["stop"]), **words)  # fmt: skip


def ask(engine: Engine, launch: str, kind: str, person: str) -> Work:
    """Queue a job; one that is open already stands for a second of the same."""
    if kind not in KINDS:
        raise ValueError(kind)
    with engine.begin() as connection:
        same = select(jobs).where(jobs.c.launch == launch, jobs.c.kind == kind, jobs.c.state.in_(OPEN))
        row = connection.execute(same).mappings().first()
        if row is None:
            values = {"launch": launch, "kind": kind, "person": person, "state": "queued", "asked": now()}
            key = connection.execute(jobs.insert().values(**values)).inserted_primary_key
            assert key is not None
            row = connection.execute(select(jobs).where(jobs.c.id == key[0])).mappings().one()
    return _work(row)


def take(engine: Engine) -> Work | None:
    """The next job, now running."""
    with engine.begin() as connection:
        row = connection.execute(select(jobs).where(jobs.c.state == "queued").order_by(jobs.c.id)).mappings().first()
        if row is None:
            return None
        mine = jobs.update().where(jobs.c.id == row["id"], jobs.c.state == "queued")
        values = {"state": "running", "began": now(), "attempts": (row["attempts"] or 0) + 1}
        if connection.execute(mine.values(**values)).rowcount != 1:
            return None
        return _work(connection.execute(select(jobs).where(jobs.c.id == row["id"])).mappings().one())


def get(engine: Engine, number: int) -> Work | None:
    with engine.connect() as connection:
        row = connection.execute(select(jobs).where(jobs.c.id == number)).mappings().first()
    return _work(row) if row else None


def latest(engine: Engine, launch: str, kind: str) -> Work | None:
    """The last job of a kind."""
    found = select(jobs).where(jobs.c.launch == launch, jobs.c.kind == kind).order_by(jobs.c.id.desc()).limit(1)
    with engine.connect() as connection:
        row = connection.execute(found).mappings().first()
    return _work(row) if row else None


def running(engine: Engine) -> Work | None:
    with engine.connect() as connection:
        row = connection.execute(select(jobs).where(jobs.c.state == "running").limit(1)).mappings().first()
    return _work(row) if row else None


def waiting(engine: Engine) -> bool:
    with engine.connect() as connection:
        return connection.execute(select(jobs.c.id).where(jobs.c.state == "queued").limit(1)).first() is not None


def report(engine: Engine, number: int, done: int, total: int, note: str) -> None:
    with engine.begin() as connection:
        mine = jobs.update().where(jobs.c.id == number, jobs.c.state == "running")
        connection.execute(mine.values(done=done, total=total, note=note))


def end(engine: Engine, number: int, state: str, message: str = "") -> None:
    with engine.begin() as connection:
        mine = jobs.update().where(jobs.c.id == number, jobs.c.state.in_(OPEN))
        connection.execute(mine.values(state=state, message=message, ended=now()))


def stop(engine: Engine, number: int) -> None:
    """Ask for a job's end: one that waits ends at once, one that runs when its worker is ended."""
    with engine.begin() as connection:
        connection.execute(jobs.update().where(jobs.c.id == number, jobs.c.state == "running").values(stop=1))
        waits = jobs.update().where(jobs.c.id == number, jobs.c.state == "queued")
        connection.execute(waits.values(state="stopped", ended=now()))


def requeue(engine: Engine) -> int:
    """Jobs whose worker has gone: stopped if that was asked for, queued again, or given up. Gives how many wait."""
    again = 0
    with engine.begin() as connection:
        rows = connection.execute(select(jobs).where(jobs.c.state == "running")).mappings().all()
        for row in rows:
            values: dict[str, Any] = {"state": "queued", "done": 0, "total": 0, "note": ""}
            if row["stop"]:
                values = {"state": "stopped", "ended": now()}
            elif (row["attempts"] or 0) >= MOST_ATTEMPTS:
                values = {"state": "failed", "ended": now(), "message": "its worker ended twice before it was done"}
            else:
                again += 1
            connection.execute(jobs.update().where(jobs.c.id == row["id"]).values(**values))
    return again


@dataclass(frozen=True)
class Result:
    """What a job found, and what it was made from."""

    content: dict[str, Any]
    inputs: dict[str, str]
    person: str
    time: str


def keep(engine: Engine, work: Work, content: Mapping[str, Any], inputs: Mapping[str, str]) -> None:
    """The result of a job, in place of an earlier one."""
    words = {"content": json.dumps(content, allow_nan=False), "inputs": json.dumps(dict(inputs)),
             "person": work.person, "time": now()}  # fmt: skip
    made = insert(database.results).values(launch=work.launch, kind=work.kind, **words)
    with engine.begin() as connection:
        connection.execute(made.on_conflict_do_update(index_elements=["launch", "kind"], set_=words))


def is_current(found: Result | None, inputs: Mapping[str, str]) -> bool:
    """Whether a result was made from the files as they are now."""
    return found is not None and all(inputs.get(name) == value for name, value in found.inputs.items())


def result(engine: Engine, launch: str, kind: str) -> Result | None:
    table = database.results
    with engine.connect() as connection:
        found = select(table).where(table.c.launch == launch, table.c.kind == kind)
        row = connection.execute(found).mappings().first()
    if row is None:
        return None
    return Result(_parsed(row["content"]), json.loads(row["inputs"]), row["person"], row["time"])


@lru_cache(maxsize=64)
def _parsed(content: str) -> dict[str, Any]:
    """Read once for each result; nobody changes it."""
    found: dict[str, Any] = json.loads(content)
    return found
