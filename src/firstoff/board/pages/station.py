"""One station: its setup sheet, and a setting that can be tried before anybody moves it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from firstoff.board import sheets, views
from firstoff.board.entry import Changed
from firstoff.board.here import Here, Looking, Planning, Posted, missing
from firstoff.board.launches import Launch, digest, judged, known
from firstoff.board.measures import Measures, sign
from firstoff.board.pages.overview import beside, frame, job_state
from firstoff.board.trail import recorded
from firstoff.errors import InputFault
from firstoff.launch.account import in_unit, named
from firstoff.launch.correcting.try_settings import BUILDS, Moved, try_settings
from firstoff.launch.hit_film import STATION
from firstoff.launch.plan import LaunchPlan
from firstoff.launch.prove import limits_of
from firstoff.launch.setup_pages import operations, setup_pages
from firstoff.methods.conformity import Limits
from firstoff.report.pages import Setting, SetupSheet
from firstoff.report.tables import number, share
from firstoff.sheets.units import size_from_si

router = APIRouter(prefix="/launch/{key}/station/{name}")


@router.get("")
def station(at: Looking, key: str, name: str) -> Response:
    return _page(at, key, name)


def _page(
    at: Here, key: str, name: str, status: int = 200, messages: Any = (), typed: Mapping[str, str] | None = None
) -> Response:
    around = frame(at, key, "route")
    launch, plan = around["launch"], around["known"].plan
    stops = {s.name: (label, stem, s) for label, stem, s in operations(plan)} if plan else {}
    if plan is None or name not in stops:
        missing()
    m, (op, stem, found) = at.measures, stops[name]
    sheet = _measured(dict(setup_pages(plan))[stem], m)
    state, judgement = job_state(at, launch, "predict"), judged(launch)
    prediction = state["result"].content["prediction"] if state["result"] and state["current"] else None
    given = [c for c in plan.plans[name].gives if limits_of(c) != Limits()]
    out = [views.outcome(plan, c, prediction, judgement, m) for c in given]
    settings = [
        (f"{name}.{p.name}", p.name.replace("_", " "), p.what, m.words(_stated(plan, f"{name}.{p.name}")),
         m.unit(p.unit))
        for p in found.parameters if p.kind == "setting"
    ]  # fmt: skip
    return at.render(
        "station.html", status, station=found, op=op, sheet=sheet, out=out, settings=settings, typed=typed or {},
        shown=_shown(plan), hits=_hits(at, launch) if name == STATION else [], messages=beside(launch, messages),
        said=at.heard(), **around,
    )  # fmt: skip


def _hits(at: Here, launch: Launch) -> list[tuple[str, str, list[str]]]:
    """Name, figure and frames of every hit that the last prediction of these sheets has drawn."""
    state = job_state(at, launch, "predict")
    drawn: list[str] = state["result"].content["figures"] if state["result"] and state["current"] else []
    whole = [name for name in drawn if name.startswith("hit-") and "-frame-" not in name]
    stems = [name.removesuffix(".svg") for name in whole]
    return [(stem.removeprefix("hit-").replace("_", " "), f"{stem}.svg",
             [name for name in drawn if name.startswith(f"{stem}-frame-")]) for stem in stems]  # fmt: skip


def _stated(plan: LaunchPlan, name: str) -> str:
    """A setting as the sheet states it, or its default."""
    given = plan.job.settings.given.get(name)
    if given is not None:
        return given.text
    value = next(v for settled in plan.plans.values() for v in settled.values if v.name == name)
    return f"{in_unit(value.nominal, value.unit, 6)}{'' if value.unit == '1' else f' {value.unit}'}"


def _shown(plan: LaunchPlan) -> str:
    """The digests of the sheets that the page was made from."""
    return " ".join(plan.job.sha256.values())


def _wished(plan: LaunchPlan, fields: Mapping[str, str], m: Measures) -> dict[str, str]:
    """The settings that somebody wants otherwise than they stand, in the units of the sheet."""
    units = {f"{s.name}.{p.name}": p.unit
             for s in plan.job.family.stations for p in s.parameters if p.kind == "setting"}  # fmt: skip
    wished = {}
    for name, words in fields.items():
        text = words.strip()
        if name in units and text:
            stated = _stated(plan, name)
            if text not in (stated, m.words(stated)):
                wished[name] = text if m.words(stated) == stated else m.for_sheet(text, units[name])
    return wished


def _measured(sheet: SetupSheet, m: Measures) -> SetupSheet:
    """A setup sheet in the account's own units."""
    if not m.us:
        return sheet

    def setting(s: Setting) -> Setting:
        words = [m.words(text.replace("−", "-")) for text in (s.tolerance, s.note)]
        return Setting(s.what, m.numbers(s.value, s.unit), sign(m.unit(s.unit)), words[0], words[1])

    checks = tuple(replace(c, limits=m.numbers(c.limits, c.unit), unit=sign(m.unit(c.unit))) for c in sheet.checks)
    return replace(
        sheet, settings=tuple(map(setting, sheet.settings)), given=tuple(map(setting, sheet.given)), checks=checks,
        lines=tuple((what, m.words(value)) for what, value in sheet.lines),
    )  # fmt: skip


@router.post("/try")
def try_it(at: Looking, key: str, name: str, form: Posted) -> Response:
    """What moves downstream, while it is typed; nothing is saved."""
    launch = at.launch(key)
    plan = known(launch).plan
    if plan is None:
        missing()
    wished = _wished(plan, form.under("set."), at.measures)
    try:
        found = try_settings(plan, wished) if wished else None
    except InputFault as fault:
        return at.render("_tried.html", messages=beside(launch, fault.messages), rows=None, launch=launch)
    rows = [_row(line, at.measures) for line in found.moved] if found else None
    return at.render(
        "_tried.html", messages=beside(launch, found.warnings if found else ()), rows=rows, launch=launch,
        count=len(found.lines) if found else 0, builds=BUILDS,
    )  # fmt: skip


def _row(line: Moved, m: Measures) -> dict[str, Any]:
    """One characteristic before and after, as texts; `value` in SI for programs."""
    c, unit = line.characteristic, m.unit(line.characteristic.unit)
    change = None if line.before is None or line.after is None else size_from_si(line.after - line.before, unit)
    sds = [None if sd is None else size_from_si(sd, unit) for sd in (line.sd_before, line.sd_after)]
    outside = [None if x is None else share(x) if x else share(1.0 / BUILDS, bound="<")
               for x in (line.outside_before, line.outside_after)]  # fmt: skip
    out = line.after is None or (c.low is not None and line.after < c.low) or (
        c.high is not None and line.after > c.high)  # fmt: skip
    return {
        "name": c.name, "label": named(c), "unit": unit, "limits": m.limits(c), "out": out, "value": line.after,
        "before": in_unit(line.before, unit, 5), "after": in_unit(line.after, unit, 5),
        "change": "" if change is None else f"{'+' if change > 0 else ''}{number(change, 3)}",
        "sds": [number(sd, 2) for sd in sds], "outside": [x or "" for x in outside],
    }  # fmt: skip


@router.post("/save")
def save(at: Planning, key: str, name: str, form: Posted) -> Response:
    """Write the changed lines into their sheet, if the sheets are still those that the page was made from."""
    launch = at.launch(key)
    plan = known(launch).plan
    if plan is None:
        missing()
    fields = form.under("set.")
    if form("shown") != _shown(plan):
        return _conflict(at, key, name, plan, fields)
    try:
        tried = try_settings(plan, _wished(plan, fields, at.measures))
        file, text = sheets.with_settings(plan.job, tried.stated)
        messages = sheets.checked(launch, file.name, text)
        if sheets.is_refused(messages):
            return _page(at, key, name, 400, messages, fields)
        sheets.store(launch, file.name, text, plan.job.sha256.get(file.name, digest(file)))
    except InputFault as fault:
        return _page(at, key, name, 400, fault.messages, fields)
    except Changed:
        return _conflict(at, key, name, plan, fields)
    at.say(recorded(at.board.root, at.engine, launch, at.account.name, readings=False))
    return at.to(f"/launch/{quote(key, '')}/station/{quote(name, '')}")


def _conflict(at: Here, key: str, name: str, plan: LaunchPlan, fields: Mapping[str, str]) -> Response:
    rows = [
        (each, mine, at.measures.words(_stated(plan, each)))
        for each, mine in fields.items()
        if each.startswith(f"{name}.")
    ]
    sent = {**{f"set.{each}": mine for each, mine in fields.items()}, "shown": _shown(plan)}
    base = f"/launch/{key}/station/{name}"
    return at.render("conflict.html", 409, file=", ".join(plan.job.sha256), rows=rows, sent=sent,
                     action=f"{base}/save", leave=base, **frame(at, key, "route"))  # fmt: skip
