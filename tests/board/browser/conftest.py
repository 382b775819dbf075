"""A real Chromium in front of a real server; only where there is no Chromium is nothing of this tested."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from firstoff.launch.demo import copy_example
from tests.board.browser.server import Server
from tests.board.browser.walk import walk
from tests.board.conftest import KEY

CHROMIUM = next(
    (path for name in ("chromium", "chromium-browser", "google-chrome") if (path := shutil.which(name))), ""
)
WAIT = 60_000  # ms: how long a page may take on a busy machine before a test fails; nothing is timed by it


@dataclass
class Watch:
    """Everything that pages of one server do beside what they show."""

    address: str
    found: list[str] = field(default_factory=list)
    asked: int = 0
    expected: str = "nothing"  # a pattern of faults that a test brings about itself

    def over(self, context: BrowserContext) -> None:
        """Note each request off the server, each that fails, each fault on the console or of a script."""
        context.on("request", self._request)
        context.on("requestfailed", lambda r: self._failed(r.url, r.failure))
        context.on("response", lambda r: self.found.append(f"{r.status} {r.url}") if r.status >= 400 else None)
        context.on("console", lambda m: self.found.append(m.text) if m.type in ("error", "warning") else None)
        context.on("weberror", lambda e: self.found.append(str(e.error)))

    def _request(self, request: object) -> None:
        self.asked += 1
        url = str(getattr(request, "url", ""))
        if not url.startswith((f"{self.address}/", "data:")):
            self.found.append(f"asked {url}")

    def _failed(self, url: str, why: str | None) -> None:
        if why != "net::ERR_ABORTED":  # by the page itself: typed on, or gone to another page meanwhile
            self.found.append(f"{url}: {why}")

    def clean(self) -> None:
        """Nothing but good answers of the server itself."""
        bad = [each for each in self.found if not re.search(self.expected, each)]
        assert self.asked and not bad, bad


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    if not CHROMIUM:
        pytest.skip("no Chromium on this machine")
    with sync_playwright() as playwright:
        made = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield made
        made.close()


@pytest.fixture(scope="package")
def root(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A folder with the example launch in it."""
    made = tmp_path_factory.mktemp("served")
    with pytest.MonkeyPatch.context() as environment:
        environment.setenv("FIRSTOFF_CONFIG", str(made / "config"))
        environment.delenv("FIRSTOFF_RECORDS", raising=False)
        environment.setenv("OPENBLAS_NUM_THREADS", "1")
        copy_example("light_truck_front", made / "board" / KEY)
        yield made / "board"


@pytest.fixture(scope="package")
def server(root: Path) -> Iterator[Server]:
    made = Server(root).start()
    yield made
    made.end()


@pytest.fixture(scope="package")
def walked(browser: Browser, server: Server, root: Path) -> Watch:
    """A board on which the whole job was done once, and all that its pages asked for meanwhile."""
    expect.set_options(timeout=WAIT)
    watch = Watch(server.address)
    with browser.new_context(base_url=server.address, viewport={"width": 1024, "height": 768}) as context:
        context.set_default_timeout(WAIT)
        watch.over(context)
        walk(context.new_page(), server.code, root, server.builds)
    return watch


@pytest.fixture
def watch(server: Server) -> Iterator[Watch]:
    made = Watch(server.address)
    yield made
    made.clean()


@pytest.fixture
def person(browser: Browser, server: Server, walked: Watch, watch: Watch) -> Iterator[Callable[..., Page]]:
    """A person at a browser of their own, on the board on which the job was done."""
    contexts: list[BrowserContext] = []

    def come(**how: object) -> Page:
        contexts.append(browser.new_context(base_url=server.address, **how))  # type: ignore[arg-type]
        contexts[-1].set_default_timeout(WAIT)
        watch.over(contexts[-1])
        return contexts[-1].new_page()

    yield come
    for context in contexts:
        context.close()
