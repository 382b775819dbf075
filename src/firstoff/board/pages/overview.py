"""The launches, one launch as its route card, one characteristic back to its causes, and the figures."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from firstoff.board import jobs, launches, views
from firstoff.board.glance import likely_causes, summary
from firstoff.board.here import Here, Looking, Planning, Posted, missing
from firstoff.board.jobs import KINDS, Result, Work
from firstoff.board.keeping import kept
from firstoff.board.launches import Known, Launch, known
from firstoff.board.standing import VERBS, stand
from firstoff.launch.plan import LaunchPlan
from firstoff.launch.setup_pages import operations

router = APIRouter()

# a figure is a page of its own to the browser: matplotlib styles it inside, and nothing else may happen in it
FIGURE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; sandbox"


def frame(at: Here, key: str, tab: str) -> dict[str, Any]:
    """What every page of a launch shows around its own."""
    launch = at.launch(key)
    of = known(launch)
    return {"launch": launch, "known": of, "tab": tab, "faults": beside(launch, of.faults),
            "missing": beside(launch, of.missing)}  # fmt: skip


def titles_of(of: Known) -> dict[str, tuple[str, str]]:
    """Label (`op 30`, or `rig`) and title of each station that has a page."""
    return {s.name: (label, s.title) for label, _, s in operations(of.plan)} if of.plan else {}


def beside(launch: Launch, messages: Any) -> list[Any]:
    """Messages whose files are named as the launch folder names them."""
    lead = f"{launch.folder}/"
    return [replace(m, file=m.file.replace("\\", "/").replace(lead, "")) for m in messages]


def job_state(at: Here, launch: Launch, kind: str) -> dict[str, Any]:
    """The last job of a kind, its result, and whether that is of the files as they are now."""
    found = jobs.result(at.engine, launch.key, kind)
    return {"kind": kind, "work": jobs.latest(at.engine, launch.key, kind), "result": found,
            "current": jobs.is_current(found, launch.inputs), "can": can(launch, kind)}  # fmt: skip


def can(launch: Launch, kind: str) -> str:
    """What a job still needs; empty when it can be asked for."""
    if kind == "line":
        return "" if launches.line_sheet(launch) else "job.needs_line"
    if known(launch).plan is None and kind not in ("release", "report"):
        return "job.needs_plan"
    return "job.needs_readings" if kind not in ("predict", "report") and launch.readings is None else ""


@router.get("/")
def all_launches(at: Looking) -> Response:
    found = [stand(at.engine, one) for one in launches.all_launches(at.board.root, at.engine)]
    return at.render("launches.html", stands=found, verbs=VERBS)


@router.get("/launch/{key}")
def route_card(at: Looking, key: str) -> Response:
    around = frame(at, key, "route")
    launch, of = around["launch"], around["known"]
    state = job_state(at, launch, "predict")
    prediction = state["result"].content["prediction"] if state["result"] and state["current"] else None
    judged = launches.judged(launch)
    explained = job_state(at, launch, "explain")
    causes = likely_causes(explained["result"].content) if explained["result"] and explained["current"] else []
    stops = views.route(of.plan, prediction, judged, causes, at.measures) if of.plan else []
    said = summary(of.plan, judged, causes, bool(explained["current"])) if of.plan else None
    alone = _alone(of.plan, judged, at) if of.plan else []
    figures = state["result"].content["figures"] if prediction else []
    return at.render(
        "route.html", stops=stops, summary=said, alone=alone, figures=figures, predict=state,
        report=job_state(at, launch, "report"), said=at.heard(), kept=kept(launch, "predict", state["result"]),
        warnings=beside(launch, of.warnings), **around,
    )  # fmt: skip


def _alone(plan: LaunchPlan, judged: launches.Judged, at: Here) -> list[views.Out]:
    """Characteristics that are measured and computed at no station."""
    return [
        views.outcome(plan, plan.job.characteristics[name], None, judged, at.measures) for name in plan.measured_only
    ]


@router.get("/launch/{key}/changed")
def changed(at: Looking, key: str, seen: str = "") -> Response:
    """Whether somebody has saved since a page was made; asked for now and then by the pages themselves."""
    return Response(status_code=204) if at.launch(key).state == seen else at.render("_changed.html")


@router.get("/launch/{key}/characteristic/{name}")
def characteristic(at: Looking, key: str, name: str) -> Response:
    """From a characteristic back: stations, parameters, readings, causes."""
    around = frame(at, key, "route")
    launch, of = around["launch"], around["known"]
    if of.job is None:
        missing()
    everything = {**of.job.characteristics, **(of.plan.characteristics if of.plan else {})}
    if name not in everything:
        missing()
    c = everything[name]
    state = job_state(at, launch, "predict")
    prediction = state["result"].content["prediction"] if state["result"] and state["current"] else None
    shares, judged = views.Shares(prediction), launches.judged(launch)
    titles = titles_of(of)
    explained = job_state(at, launch, "explain")
    return at.render(
        "characteristic.html", c=at.measures.of(c), titles=titles, predict=state,
        out=views.outcome(of.plan, c, prediction, judged, at.measures) if of.plan else None,
        by_station=shares.by_station(name), by_parameter=shares.by_parameter(name)[:12],
        verdicts=views.verdicts_on(judged.proof, name, at.measures)
        if judged.proof and name in judged.proof.characteristics else [],
        causes=_causes(explained["result"], name) if explained["current"] else [], **around,
    )  # fmt: skip


def _causes(found: Result, name: str) -> list[dict[str, Any]]:
    """Causes with what this characteristic's readings add to each."""
    rows = []
    for lot in found.content["lots"]:
        for cause in lot["causes"][:8]:
            gain = dict(cause["readings"]).get(name)
            if gain is not None:
                rows.append(
                    {"title": cause["title"], "stations": cause["stations"], "p": cause["p_text"], "gain": gain}
                )
    return rows


@router.get("/launch/{key}/figure/{name}")
def figure(at: Looking, key: str, name: str) -> Response:
    """A figure as the dossier prints it; only those that a job has said it drew."""
    launch = at.launch(key)
    results = [jobs.result(at.engine, launch.key, kind) for kind in KINDS]
    drawn = {each for found in results if found for each in found.content.get("figures", [])}
    file = launch.folder / name
    if name not in drawn or not file.is_file():
        missing()
    return Response(file.read_bytes(), media_type="image/svg+xml", headers={"content-security-policy": FIGURE_POLICY})


@router.get("/launch/{key}/paper/{name:path}")
def paper(at: Looking, key: str, name: str) -> Response:
    """A paper that the board has printed."""
    launch = at.launch(key)
    found = jobs.result(at.engine, launch.key, "report")
    file = launch.folder / name
    if found is None or name not in found.content["files"] or file.suffix != ".pdf" or not file.is_file():
        missing()
    heads = {"content-disposition": f'attachment; filename="{file.name}"'}
    return Response(file.read_bytes(), media_type="application/pdf", headers=heads)


@router.post("/launch/{key}/owner")
def owner(at: Planning, key: str, form: Posted) -> Response:
    launch = at.launch(key)
    launches.choose(at.engine, launch.key, owner=" ".join(form("owner").split())[:60])
    return at.to("/")


@router.post("/launch/{key}/job/{kind}")
def ask(at: Planning, key: str, kind: str, form: Posted) -> Response:
    launch = at.launch(key)
    if kind not in KINDS:
        missing()
    if not can(launch, kind):
        jobs.ask(at.engine, launch.key, kind, at.account.name)
    return at.render("_job.html", launch=launch, job=job_state(at, launch, kind), piece=True)


@router.get("/launch/{key}/job/{kind}")
def job(at: Looking, key: str, kind: str) -> Response:
    """The state of a job, asked for again and again while it is open; then the whole page is loaded anew."""
    launch = at.launch(key)
    if kind not in KINDS:
        missing()
    state = job_state(at, launch, kind)
    answer = at.render("_job.html", launch=launch, job=state, piece=True)
    work: Work | None = state["work"]
    if work is not None and not work.open:
        answer.headers["HX-Refresh"] = "true"
    return answer


@router.post("/launch/{key}/job/{kind}/stop")
def stop(at: Planning, key: str, kind: str, form: Posted) -> Response:
    launch = at.launch(key)
    work = jobs.latest(at.engine, launch.key, kind)
    if work is not None:
        jobs.stop(at.engine, work.id)
    return at.render("_job.html", launch=launch, job=job_state(at, launch, kind), piece=True)
