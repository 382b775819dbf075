"""The whole job in a browser, from the code on the terminal to the signed decision; its steps stand in walk.py."""

from __future__ import annotations

from tests.board.browser.conftest import Watch


def test_the_whole_job_asks_nobody_else_and_breaks_nothing(walked: Watch) -> None:
    assert walked.asked > 100
    walked.clean()
