"""The launch board under load: 50 people read pages and 10 enter readings, all at once, against a server of its own.

People stay a little on a page (PAUSE), as people do; who enters readings types one part after another. Half of them
use the page, half post as rigs do. Every reading that the board has acknowledged must stand in the file at the end.
The alternative is the same board with nothing kept between two questions: sheets are read and planned, and readings
judged, anew for each page. Server and people share the machine's processors.
"""

from __future__ import annotations

import asyncio
import csv
import json
import os
import random
import re
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from bench.memory import tree_memory

READERS, WRITERS = 50, 10
PAUSE = (2.0, 6.0)  # s between two pages of a person
SECONDS = 30.0
PASSWORD = "a long walk to the rig"
KEY = "lt3"
PAGES = ("/", f"/launch/{KEY}", f"/launch/{KEY}/first-offs", f"/launch/{KEY}/part?part=FO-02&lot=L1",
         f"/launch/{KEY}/characteristic/rebound_0.52", f"/launch/{KEY}/explain", f"/launch/{KEY}/release",
         f"/launch/{KEY}/station/piston_valve", f"/launch/{KEY}/sheets", f"/launch/{KEY}/follow")  # fmt: skip
SERVE = "from firstoff.cli.main import main; main()"
FORGETFUL = f"""
from firstoff.board import launches
for name in ("_known", "_judged"):
    setattr(launches, name, getattr(launches, name).__wrapped__)
{SERVE}
"""


@dataclass
class Took:
    """What the people saw."""

    pages: list[float] = field(default_factory=list)  # s
    saves: list[float] = field(default_factory=list)  # s
    kept: set[str] = field(default_factory=set)  # parts that were acknowledged
    faults: list[str] = field(default_factory=list)


def laid_out(root: Path) -> tuple[list[str], str]:
    """A board with the example launch, an account for each person and a token for the rigs."""
    from firstoff.board import accounts, jobs, worker
    from firstoff.board.database import open_board
    from firstoff.launch.demo import copy_example

    copy_example("light_truck_front", root / KEY)
    engine = open_board(root)
    names = [f"Person {n}" for n in range(READERS + WRITERS)]
    for name in names:
        accounts.add(engine, name, "plan", PASSWORD, keeper=name == names[0])
    for kind in ("predict", "explain", "release"):
        jobs.ask(engine, KEY, kind, names[0])
        assert worker.do_one(root, engine, 256)
    return names, accounts.make_token(engine, "damping rig 2", names[0])


async def signed_in(browser: Any, name: str) -> None:
    page = await browser.get("/sign-in")
    words = {"name": name, "password": PASSWORD, "csrf": _field(page.text, "csrf")}
    assert "Sign out" in (await browser.post("/sign-in", data=words)).text


async def person(browser: Any, took: Took, end: float, number: int, token: str) -> None:
    rng = random.Random(number)
    await asyncio.sleep(rng.uniform(0.0, PAUSE[1]))
    while time.monotonic() < end:
        if number < READERS:
            await _timed(browser, took, took.pages, "GET", rng.choice(PAGES))
        else:
            await _enter(browser, took, f"P{number}-{len(took.kept)}-{rng.random():.6f}", token, rng)
        await asyncio.sleep(rng.uniform(*PAUSE))


async def _timed(browser: Any, took: Took, into: list[float], how: str, path: str, **sent: Any) -> Any:
    start = time.perf_counter()
    answer = await browser.request(how, path, **sent)
    into.append(time.perf_counter() - start)
    if answer.status_code >= 400:
        took.faults.append(f"{answer.status_code} {how} {path}")
    return answer


async def _enter(browser: Any, took: Took, part: str, token: str, rng: random.Random) -> None:
    value = round(rng.gauss(1340.0, 25.0))
    if token:
        sent = {"launch": KEY, "part": part, "lot": "L1",
                "readings": [{"characteristic": "rebound_0.52", "value": value, "unit": "N"}]}  # fmt: skip
        heads = {"authorization": f"Bearer {token}"}
        answer = await _timed(browser, took, took.saves, "POST", "/api/readings", json=sent, headers=heads)
    else:
        page = await _timed(browser, took, took.pages, "GET", f"/launch/{KEY}/part")
        words = {name: _field(page.text, name) for name in ("csrf", "shown", "row", "of_part", "of_lot")}
        words |= {"part": part, "lot": "L1", "gauge": "", "temperature": "", "value.rebound_0.52": str(value)}
        answer = await _timed(browser, took, took.saves, "POST", f"/launch/{KEY}/part", data=words)
    if answer.status_code < 400 and part in answer.text + str(answer.url) + (part if token else ""):
        took.kept.add(part)


def _field(page: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    assert found, name
    return found[1]


async def _crowd(base: str, names: list[str], token: str) -> Took:
    """Everybody signs in and each page is opened once before the clock runs: passwords take long on purpose."""
    import httpx

    took = Took()
    browsers = [httpx.AsyncClient(base_url=base, timeout=120.0, follow_redirects=True) for _ in names]
    tokens = [token if n >= READERS + WRITERS // 2 else "" for n in range(len(names))]
    for browser, name, rig in zip(browsers, names, tokens, strict=True):
        if not rig:
            await signed_in(browser, name)
    for path in PAGES:
        assert (await browsers[0].get(path)).status_code == 200, path
    end = time.monotonic() + SECONDS
    await asyncio.gather(*(person(b, took, end, n, tokens[n]) for n, b in enumerate(browsers)))
    for browser in browsers:
        await browser.aclose()
    return took


def loaded(code: str) -> tuple[Took, float]:
    """The crowd against a server, and the server's peak memory [MB]. AssertionError when a reading was lost."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ["FIRSTOFF_CONFIG"] = f"{folder}/config"
        root = Path(folder) / "board"
        names, token = laid_out(root)
        server = subprocess.Popen([sys.executable, "-c", code, "serve", str(root), "--port", "0"],
                                  stdout=subprocess.PIPE, text=True)  # fmt: skip
        assert server.stdout is not None
        try:
            found = re.search(r"http://\S+:\d+", server.stdout.readline())
            assert found
            took = asyncio.run(_crowd(found[0], names, token))
            peak = tree_memory(server.pid)
        finally:
            server.send_signal(signal.SIGINT)
            server.wait(30)
        with open(root / KEY / "first_offs.csv", encoding="utf-8") as file:
            stand = {line["part"] for line in csv.DictReader(file)}
        assert took.kept and took.kept <= stand, took.kept - stand
        assert len(stand) == 8 + len(took.kept)
        return took, peak


def quantile(times: list[float], share: float) -> float:
    return sorted(times)[min(int(share * len(times)), len(times) - 1)]


def rows() -> list[dict[str, Any]]:
    """p50 and p95 of pages and saves; the error is the share of questions that were not answered as they should."""
    ours, peak = loaded(SERVE)
    other, _ = loaded(FORGETFUL)
    found = []
    for what, mine, its in (("pages", ours.pages, other.pages), ("saves", ours.saves, other.saves)):
        for name, share in (("p50", 0.5), ("p95", 0.95)):
            seconds, theirs = quantile(mine, share), quantile(its, share)
            found.append({
                "id": f"board-{what}-{name}", "seconds": seconds,
                "load": f"{READERS} read, {WRITERS} enter readings: {name} of {len(mine)} {what}",
                "alternative": "nothing kept between two questions",
                "alternative_seconds": theirs, "ratio": theirs / seconds,
                "error": len(ours.faults) / (len(ours.pages) + len(ours.saves)), "peak_pss_mb": peak,
            })  # fmt: skip
    return found


if __name__ == "__main__":
    if sys.argv[1:] == ["ours"]:
        took, peak = loaded(SERVE)
        for what, times in (("pages", took.pages), ("saves", took.saves)):
            print(what, len(times), [round(quantile(times, q), 3) for q in (0.5, 0.9, 0.95, 1.0)])
        print(len(took.kept), "kept", took.faults[:5], round(peak))
    else:
        for row in rows():
            print(json.dumps(row))
