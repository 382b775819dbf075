"""Kills writers at random instants, then tampers at random with what they left.

    python -m tests.records.soak --kills 1000 --tampers 1000 --database sqlite
    python -m tests.records.soak --kills 1000 --tampers 1000 --database postgresql

Two writers append batches to the same records and acknowledge each over a pipe; both are killed (SIGKILL) at a random
instant, again and again. Then: nothing acknowledged is lost, nothing is half there, `verify` is clean. After that the
records are edited, cut, swapped and replayed at random behind their back, one change a round: every one must be found.
"""

from __future__ import annotations

import argparse
import os
import random
import select
import signal
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path

import sqlalchemy as sa

from firstoff.records import Batch, Head, append, head, open_records, signer, verify
from firstoff.records.schema import entries
from tests.records.random_tamper import tamper_rounds

LONGEST = 0.35  # s that a pair of writers lives at most
SIZES = (1, 1, 3, 10, 40, 300, 2500)  # rows of a batch; from 2000 on a server takes them by COPY


@dataclass
class Kills:
    """What the writers were told, and what was found afterwards."""

    kills: int = 0
    acknowledged: list[Head] = field(default_factory=list)
    entries: int = 0
    lost: list[Head] = field(default_factory=list)
    findings: tuple[str, ...] = ()
    head: Head = Head(0, "")

    @property
    def sound(self) -> bool:
        return not self.lost and not self.findings


def write_on(place: str, name: str, seed: int, pipe: int) -> None:
    """Append batches for ever, and tell each when it is recorded. Runs in a process of its own."""
    draw = random.Random(seed)
    with open_records(place) as records:
        who = signer(name)
        for i in range(1_000_000):
            batch = Batch("soak", f"{name} {seed} {i}")
            size = draw.choice(SIZES)
            batch.add_rows(
                "edges", [(f"bath fill:{i}", f"bar:{name}-{seed}-{i}-{k}", "plated in", "") for k in range(size)]
            )
            os.write(pipe, f"{append(records, batch, who)}\n".encode())


def kill_rounds(place: str, kills: int, seed: int = 1, longest: float = LONGEST) -> Kills:
    """Kill a pair of writers so many times in all, and look at what they left."""
    draw = random.Random(seed)
    open_records(place).close()
    for name in ("Writer One", "Writer Two"):
        signer(name)
    found = Kills()
    while found.kills < kills:
        source, sink = os.pipe()
        children = []
        for k, name in enumerate(("Writer One", "Writer Two")):
            child = os.fork()
            if child == 0:
                try:
                    os.close(source)
                    write_on(place, name, seed * 1_000_003 + 2 * found.kills + k, sink)
                finally:
                    os._exit(3)  # it never comes to an end by itself
            children.append(child)
        os.close(sink)
        if found.kills % 4:  # every other time while they write for certain, else at any instant since they began
            select.select([source], [], [], 30.0)
        time.sleep(draw.uniform(0.0, longest))
        for child in children:
            os.kill(child, signal.SIGKILL)
        with os.fdopen(source, "rb") as told:
            lines = told.read().decode().splitlines()
        for child in children:
            _, status = os.waitpid(child, 0)
            if os.WIFEXITED(status):
                raise RuntimeError("a writer ended by itself")
        found.kills += 2
        for line in lines:
            number, digest = line.split(":")
            found.acknowledged.append(Head(int(number), digest))
    return _looked_at(place, found)


def _looked_at(place: str, found: Kills) -> Kills:
    with open_records(place) as records:
        with records.reading() as connection:
            kept = {int(n): str(h) for n, h in connection.execute(sa.select(entries.c.number, entries.c.hash)).all()}
        found.entries = len(kept)
        found.lost = [a for a in found.acknowledged if kept.get(a.number) != a.hash]
        found.head = head(records)
        found.findings = tuple(f.as_text() for f in verify(records, found.head).findings)
    return found


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    words.add_argument("--kills", type=int, default=1000)
    words.add_argument("--tampers", type=int, default=1000)
    words.add_argument("--database", choices=("sqlite", "postgresql"), default="sqlite")
    words.add_argument("--seed", type=int, default=1)
    asked = words.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["FIRSTOFF_CONFIG"] = folder
        if asked.database == "sqlite":
            ok = soak(str(Path(folder) / "records.db"), asked.kills, asked.tampers, asked.seed)
        else:
            from tests.records.server import running

            with running() as server:
                ok = soak(server.new(), asked.kills, asked.tampers, asked.seed)
    sys.exit(0 if ok else 1)


def soak(place: str, kills: int, tampers: int, seed: int) -> bool:
    """Both parts, with their result on standard output."""
    start = time.perf_counter()
    found = kill_rounds(place, kills, seed)
    print(
        f"{found.kills} kills: {len(found.acknowledged)} batches acknowledged, {found.entries} recorded, "
        f"{len(found.lost)} acknowledged and lost, {len(found.findings)} findings "
        f"({time.perf_counter() - start:.0f} s)",
        flush=True,
    )
    start = time.perf_counter()
    done = tamper_rounds(place, tampers, seed)
    kinds = ", ".join(f"{kind} {count}" for kind, count in sorted(done.kinds.items()))
    print(f"{done.rounds} random changes ({kinds}): {len(done.missed)} not found ({time.perf_counter() - start:.0f} s)")
    for text in (*map(str, found.lost), *found.findings, *done.missed):
        print(f"  {text}")
    return found.sound and not done.missed


if __name__ == "__main__":
    main()
