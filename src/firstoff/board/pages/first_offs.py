"""First-offs: typed, pasted or uploaded readings, and a page for each part."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from firstoff.board import entry, launches, views
from firstoff.board.entry import Changed, Sheet
from firstoff.board.here import Here, Looking, Posted, Reading, missing
from firstoff.board.launches import NEW_READINGS, Known, Launch, digest, judged
from firstoff.board.measures import Measures
from firstoff.board.pages.overview import beside, frame
from firstoff.board.texts import text
from firstoff.board.trail import recorded
from firstoff.errors import InputFault, Message
from firstoff.launch.readable import readable

router = APIRouter(prefix="/launch/{key}")


@router.get("/first-offs")
def first_offs(at: Looking, key: str) -> Response:
    return _page(at, key)


def _page(at: Here, key: str, status: int = 200, messages: Any = (), pasted: str = "") -> Response:
    around = frame(at, key, "first_offs")
    launch: Launch = around["launch"]
    found = judged(launch)
    proof = found.proof
    return at.render(
        "first_offs.html", status, proof=proof, parts=views.parts(proof) if proof else [],
        lots=views.lots(proof, at.measures) if proof else {}, messages=beside(launch, [*found.faults, *messages]),
        remarks=beside(launch, proof.trial.messages) if proof else [], editable=_editable(launch, around["known"]),
        shown=digest(launch.readings), pasted=pasted, said=at.heard(), size=entry.LARGEST_TABLE // 2**20, **around,
    )  # fmt: skip


def _editable(launch: Launch, of: Known) -> bool:
    if of.job is None:
        return False
    try:
        return entry.sheet_of(launch, of) is not None
    except InputFault:
        return False


@router.get("/part")
def part(at: Looking, key: str, part: str = "", lot: str = "", row: int = -1) -> Response:
    """One part: reading, limit, gauge error, verdict. Without a name: a new one."""
    return _part(at, key, part, lot, row)


def _part(
    at: Here, key: str, part: str, lot: str, row: int, status: int = 200, messages: Any = (),
    typed: dict[str, str] | None = None,
) -> Response:  # fmt: skip
    around = frame(at, key, "first_offs")
    launch, of = around["launch"], around["known"]
    if of.job is None:
        return at.to(f"/launch/{quote(key, '')}/first-offs")
    sheet = entry.sheet_of(launch, of) if _editable(launch, of) else None
    rows = [i for i in range(len(sheet.rows)) if _is_of(sheet, i, part, lot)] if sheet and part else []
    if rows and row not in rows:
        row = rows[0]
    proof, m = judged(launch).proof, at.measures
    verdicts = views.verdicts(proof, lot, part, m) if proof and part else {}
    if part and not verdicts and not rows and typed is None:
        missing()
    asked = views.asked(of)
    names = [c.name for c in asked] + [name for name in verdicts if name not in {c.name for c in asked}]
    cells = typed or {
        **{f"value.{n}": _cell(m, sheet, row, "reading", n) if sheet and rows else "" for n in names},
        **{k: _cell(m, sheet, row, k) if sheet and rows else "" for k in ("gauge", "temperature")},
        "part": part, "lot": lot,
    }  # fmt: skip
    known_ones = {c.name: c for c in asked} | (dict(proof.characteristics) if proof else {})
    return at.render(
        "part.html", status, part=part, lot=lot, row=row if rows else -1, rows=rows, sheet=sheet, cells=cells,
        lines=[(known_ones[n], m.limits(known_ones[n]), verdicts.get(n), m.unit(unit_of(sheet, known_ones[n])))
               for n in names], temperature_in=m.unit("degC"),
        gauges=sorted({g.name for g in of.job.gauges.values()}), shown=digest(launch.readings),
        messages=beside(launch, messages), said=at.heard(), **around,
    )  # fmt: skip


def unit_of(sheet: Sheet | None, c: Any) -> str:
    """In which a bare number is meant: that of the file's column, else the characteristic's own."""
    at = sheet.at("reading", c.name) if sheet else None
    return sheet.columns[at].unit if sheet and at is not None else f"{c.unit}{' abs' if c.pressure else ''}"


def _cell(m: Measures, sheet: Sheet, row: int, kind: str, name: str = "") -> str:
    """A cell as it is shown: a number in the account's own unit."""
    text, at = sheet.cell(row, kind, name), sheet.at(kind, name)
    if not m.us or kind not in ("reading", "temperature") or at is None or not text:
        return text
    return m.numbers(text.replace(",", "."), sheet.columns[at].unit)


def _meant(
    m: Measures, sheet: Sheet, of: Known, row: int | None, values: Mapping[str, str], names: Mapping[str, str]
) -> tuple[dict[str, str], dict[str, str]]:
    """Values and names as they were meant: a bare number in the unit that was shown; what was left alone, as it was."""
    if not m.us:
        return dict(values), dict(names)
    known_ones = readable(of.job, of.plan) if of.job else {}

    def one(kind: str, name: str, text: str) -> str:
        if row is not None and text.strip() == _cell(m, sheet, row, kind, name):
            return sheet.cell(row, kind, name)
        at = sheet.at(kind, name)
        unit = sheet.columns[at].unit if at is not None else "degC" if kind == "temperature" else known_ones[name].unit
        return m.typed(text, unit)

    meant = {name: one("reading", name, text) for name, text in values.items() if name in known_ones}
    return meant, {kind: one(kind, "", text) if kind == "temperature" else text for kind, text in names.items()}


def _is_of(sheet: Sheet, row: int, part: str, lot: str) -> bool:
    return sheet.cell(row, "part") == part and sheet.cell(row, "lot") == lot


@router.post("/check-value")
def check_value(at: Reading, key: str, form: Posted) -> Response:
    """What a typed value would mean, while it is typed; nothing is saved."""
    launch = at.launch(key)
    of = launches.known(launch)
    name = form("name")
    c = next((c for c in (views.asked(of) if of.job else []) if c.name == name), None)
    if c is None:
        missing()
    words = form(f"value.{name}")
    found = entry.typed(words, c, form("unit")) if words.strip() else None
    return at.render("_check.html", found=found)


@router.post("/part")
def save_part(at: Reading, key: str, form: Posted) -> Response:
    """Save one part's line, if the file is still the one that the form was made from; else show both.

    A part that nobody has entered yet is added to the file as it stands: nothing is written over.
    """
    launch = at.launch(key)
    of = launches.known(launch)
    names = {kind: " ".join(form(kind).split()) for kind in ("part", "lot", "gauge", "temperature")}
    values = form.under("value.")
    row = int(form("row")) if form("row").isdigit() else None
    typed = {**names, **{f"value.{n}": v for n, v in values.items()}}
    where = (form("of_part"), form("of_lot")) if row is not None else ("", "")
    try:
        _write_part(at, launch, of, form("shown"), where, row, names, values)
    except InputFault as fault:
        return _part(at, key, *where, -1 if row is None else row, 400, fault.messages, typed)
    except Changed:
        return _conflict(at, key, launch, of, where if where[0] else (names["part"], names["lot"]), names, values, row)
    at.say(recorded(at.board.root, at.engine, launch, at.account.name, readings=True))
    return at.to(f"/launch/{quote(key, '')}/part?part={quote(names['part'], '')}&lot={quote(names['lot'], '')}")


def _write_part(
    at: Here, launch: Launch, of: Known, shown: str, where: tuple[str, str], row: int | None, names: dict[str, str],
    values: dict[str, str],
) -> None:  # fmt: skip
    """Raises Changed when somebody else has saved what would be written over, InputFault for what is typed wrong."""
    for attempt in range(entry.TRIES):
        now = digest(launch.readings)
        sheet = entry.sheet_of(launch, of)
        if now != shown and (row is not None or sheet is None or _is_there(sheet, names)):
            raise Changed
        if sheet is None or (row is not None and not (row < len(sheet.rows) and _is_of(sheet, row, *where))):
            missing()
        meant, named = _meant(at.measures, sheet, of, row, values, names)
        made = entry.with_part(sheet, of, row, named, meant)
        entry.tried(made.text().encode(), launch.readings.name if launch.readings else NEW_READINGS, of)
        try:
            entry.store(launch, made.text(), now)
            return
        except Changed:  # at this very moment
            if row is not None or attempt == entry.TRIES - 1:
                raise


def _is_there(sheet: Sheet, names: dict[str, str]) -> bool:
    return any(_is_of(sheet, i, names["part"], names["lot"]) for i in range(len(sheet.rows)))


def _conflict(
    at: Here, key: str, launch: Launch, of: Known, where: tuple[str, str], names: dict[str, str],
    values: dict[str, str], row: int | None,
) -> Response:  # fmt: skip
    """Both side by side. Saving again is then against the file as it stands now."""
    sheet = entry.sheet_of(launch, of)
    rows = [i for i in range(len(sheet.rows)) if _is_of(sheet, i, *where)] if sheet and where[0] else []
    now = row if row in rows else rows[0] if rows else None
    mine = {**names, **{f"value.{n}": v for n, v in values.items()}}
    kinds = ("part", "lot", "gauge", "temperature")
    theirs = dict.fromkeys(mine, "")
    if sheet and now is not None:
        theirs |= {kind: _cell(at.measures, sheet, now, kind) for kind in kinds}
        theirs |= {f"value.{n}": _cell(at.measures, sheet, now, "reading", n) for n in values}
    at_row = "" if now is None else str(now)
    sent = {**mine, "shown": digest(launch.readings), "of_part": where[0], "of_lot": where[1], "row": at_row}
    rows_of = [(name.removeprefix("value."), mine[name], theirs[name]) for name in mine]
    leave = f"/launch/{key}/first-offs"
    return at.render("conflict.html", 409, file=launch.readings.name if launch.readings else NEW_READINGS,
                     rows=rows_of, sent=sent, action=f"/launch/{key}/part", leave=leave,
                     **frame(at, key, "first_offs"))  # fmt: skip


@router.post("/paste")
def paste(at: Reading, key: str, form: Posted) -> Response:
    """Lines of a spreadsheet, added to the readings."""
    launch = at.launch(key)
    of = launches.known(launch)
    name = launch.readings.name if launch.readings else NEW_READINGS
    try:
        sheet = entry.sheet_of(launch, of)
        if sheet is None:
            return _page(at, key, 400, [Message(text("fo.elsewhere"))], form("pasted"))
        more = entry.read_sheet(form("pasted").encode(), "pasted", of)
        made = entry.merged(sheet, more, of)
        entry.tried(made.text().encode(), name, of)
        entry.store(launch, made.text(), form("shown"))
    except InputFault as fault:
        return _page(at, key, 400, fault.messages, form("pasted"))
    except Changed:
        return _page(at, key, 409, [Message(text("conflict.what", file=name))], form("pasted"))
    at.say(recorded(at.board.root, at.engine, launch, at.account.name, readings=True))
    return at.to(f"/launch/{quote(key, '')}/first-offs")


@router.post("/upload")
def upload(at: Reading, key: str, form: Posted) -> Response:
    """A file of readings, read whole before it is kept."""
    launch = at.launch(key)
    of = launches.known(launch)
    name, data = form.upload("file")
    if of.job is None:
        return _page(at, key, 400)
    if not data or len(data) > entry.LARGEST_TABLE:
        what = Message("is empty or too large", key=name[:60], allowed=f"up to {entry.LARGEST_TABLE // 2**20} MB")
        return _page(at, key, 413 if data else 400, [what])
    try:
        entry.tried(data, "upload.xlsx" if data.startswith(b"PK\x03\x04") else "upload.csv", of)
    except InputFault as fault:
        return _page(at, key, 400, fault.messages)
    file = entry.store_upload(launch, name, data)
    launches.choose(at.engine, launch.key, readings=file.name)
    at.say(recorded(at.board.root, at.engine, launch, at.account.name, readings=True))
    return at.to(f"/launch/{quote(key, '')}/first-offs")


@router.post("/files")
def files(at: Reading, key: str, form: Posted) -> Response:
    """Which of the folder's files are the readings, and which the known-good lot."""
    launch = at.launch(key)
    chosen = {role: form(role) for role in ("readings", "good") if form(role) in ("", *launch.tables)}
    launches.choose(at.engine, launch.key, **chosen)
    return at.to(f"/launch/{quote(key, '')}/first-offs")
