"""What of a job's result is kept in the records, and what they hold of it already."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from firstoff.board.jobs import Result
from firstoff.board.launches import Launch, known
from firstoff.errors import InputFault
from firstoff.launch.recorded.authority import are_there, records_place
from firstoff.launch.recorded.keep import Finding, Kept, kept_results
from firstoff.launch.recorded.recommended import recorded
from firstoff.records import open_records
from firstoff.report.tables import share

KINDS = {"predict": "prediction", "explain": "explanation", "correct": "correction", "release": "recommendation"}
PAGE_ONLY = ("rows",)  # of a recommendation: words of the board's page, no part of what is kept or signed


def findings(kind: str, content: Mapping[str, Any], launch: Launch) -> list[Finding]:
    """A job's result as the records hold it: of explain and correct one a lot."""
    name = KINDS[kind]
    if kind == "predict":
        rate = content["prediction"]["any_outside"]
        shown = share(rate["share"]) if rate["rejects"] else share(rate["high"], bound="<")
        return [Finding(name, content["prediction"], f"any characteristic outside: {shown}")]
    if kind == "release":
        said = {key: value for key, value in content.items() if key not in PAGE_ONLY}
        readings = launch.readings.name if launch.readings else ""
        return [Finding(name, recorded(said, readings), content["recommended"])]
    say = _cause if kind == "explain" else _verdict
    return [Finding(name, lot, say(lot), lot["lot"] or "") for lot in content["lots"]]


def _cause(lot: Mapping[str, Any]) -> str:
    first = next(iter(lot["causes"]), None)
    return f"{first['title']}, {first['who']}: {first['probability']:.2f}" if first else "no cause"


def _verdict(lot: Mapping[str, Any]) -> str:
    return str(lot["verdict"])


def kept(launch: Launch, kind: str, result: Result | None) -> list[tuple[Kept, bool]]:
    """What the records hold of a kind, and whether it is the very result that the page shows."""
    job = known(launch).job
    if kind not in KINDS or job is None or not are_there(None, launch.folder):
        return []
    now = {one.digest for one in findings(kind, result.content, launch)} if result else set()
    try:
        with open_records(records_place(None, launch.folder), create=False) as records:
            return [(one, one.digest in now) for one in kept_results(records, job.name, KINDS[kind])]
    except (InputFault, OSError):
        return []
