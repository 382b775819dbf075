"""Keep: what the worker found goes into the records when somebody says so, under that person's name."""

from __future__ import annotations

from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from firstoff.board import entry, jobs
from firstoff.board.here import Planning, Posted, missing
from firstoff.board.jobs import Result
from firstoff.board.keeping import KINDS, findings
from firstoff.board.launches import Launch, known
from firstoff.board.texts import text
from firstoff.errors import InputFault
from firstoff.launch.job import Job
from firstoff.launch.recorded.authority import Author, records_place
from firstoff.launch.recorded.keep import keep
from firstoff.records import open_records

router = APIRouter(prefix="/launch/{key}/keep/{kind}")


@router.post("")
def keep_it(at: Planning, key: str, kind: str, form: Posted) -> Response:
    """Record a result as it stands, if it is of the files as they are."""
    launch = at.launch(key)
    job = known(launch).job
    if kind not in KINDS:
        missing()
    back = at.to(f"/launch/{quote(key, '')}{'' if kind == 'predict' else f'/{kind}'}")
    with entry.WRITING:
        result = jobs.result(at.engine, launch.key, kind)
        if result is None or job is None or not jobs.is_current(result, launch.inputs):
            at.say(text("keep.old"))
            return back
        try:
            at.say(_kept(at.account.name, launch, job, kind, result))
        except InputFault as fault:
            at.say(fault.messages[0].what)
    return back


def _kept(person: str, launch: Launch, job: Job, kind: str, result: Result) -> str:
    with_readings = kind != "predict"
    with open_records(records_place(None, launch.folder)) as records:
        made = keep(job, records, Author(person), findings(kind, result.content, launch), launch.readings if
                    with_readings else None, launch.good if with_readings else None)  # fmt: skip
    return text("keep.done" if made.new else "keep.before", entry=str(made.entry))
