"""The test plan in words, as a printed first-off sheet and as a workbook to fill in."""

from __future__ import annotations

from pathlib import Path

from firstoff import __version__
from firstoff.errors import counted
from firstoff.launch.account import SAFETY_NOTE, limits_text
from firstoff.launch.owner import claim
from firstoff.launch.readable import units_of
from firstoff.launch.test_plan.test_plan import Asked, Life, TestPlan
from firstoff.launch.write import write_bytes
from firstoff.report.first_off_book import first_off_xlsx
from firstoff.report.first_off_sheet import NONE, READ, AskedRow, BookRow, FirstOffSheet, Form, FormRow
from firstoff.report.printing import first_off_pdf
from firstoff.report.tables import share, table, unit_sign, wrap
from firstoff.sheets.units import KINDS, QuantityError, same_dimension

COLUMNS = 8  # parts side by side on a form
NO_GAUGE = "no gauge is declared"
FILES = ("first-off-sheet.pdf", "first-off-sheet.xlsx")


def test_plan_text(found: TestPlan, width: int = 120) -> str:
    """The plan for a terminal: how many parts, what each characteristic asks, the order, what is missing."""
    sheet = first_off_sheet(found)
    lines = ["TEST PLAN  " + " ".join(sheet.says[:1]), *(x for text in sheet.says[1:] for x in wrap(text, width)), ""]
    heads = ("step", "characteristic or test", "unit", "limits", "gauge", "parts", "rule", "proves, if as foreseen")
    rows = [(r.step, _marked(r), r.unit, r.limits, r.gauge, r.parts, r.rule, r.proves) for r in sheet.asked]
    lines.append(table(heads, rows, width=width + 20))
    lines += [SAFETY_NOTE] if any(r.safety for r in sheet.asked) else []
    lines += [x for text in sheet.notes for x in wrap(f"Note: {text}", width)]
    lines += (
        [f"{counted(len(found.assumed), 'assumption')} of the test plan, each in plan.md."] if found.assumed else []
    )
    return "\n".join(lines)


def test_plan_short(found: TestPlan) -> str:
    """Two lines for the end of an account."""
    says = _says(found)
    return f"TEST PLAN  {says[0]}\n{says[1]} Sheets to fill in: {', '.join(FILES)}."


test_plan_short.__test__ = False  # type: ignore[attr-defined]
test_plan_text.__test__ = False  # type: ignore[attr-defined]


def _marked(row: AskedRow) -> str:
    return row.what + (" (S)" if row.safety else "") + (" (part is lost)" if row.lost else "")


def first_off_sheet(found: TestPlan) -> FirstOffSheet:
    """The plan as plain data."""
    job = found.job
    return FirstOffSheet(
        job.name, job.revision, job.plant, __version__, tuple(_says(found)), tuple(_asked(found)), tuple(_forms(found)),
        tuple(_notes(found)), found.assumed, found.cautions, tuple(job.sha256.items()),
    )  # fmt: skip


def _says(found: TestPlan) -> list[str]:
    wishes = found.job.first_offs
    lots = f", {found.shared.parts} of each of {found.lots} lots" if found.lots > 1 else ""
    lost = len(found.shared.lost) * found.lots
    said = [
        f"{counted(found.parts, 'first-off')}{lots}, {counted(found.shared.readings * found.lots, 'reading')}"
        + (f"; {counted(lost, 'part')} {'is' if lost == 1 else 'are'} lost." if lost else "; no part is lost."),
        f"Asked: {100 * wishes.inside:g} % of the lot inside the limits, with {100 * wishes.confidence:g} % confidence."
        + (f" Chance asked that a lot as foreseen is proven: {100 * wishes.chance:g} %." if wishes.chance else ""),
    ]
    if found.shared.parts < found.wanted:
        said.append(
            f"That asks for {counted(found.wanted, 'part')} of a lot; {wishes.parts} can be had. What they prove "
            "stands in the last column."
        )
    return said


def _steps(found: TestPlan) -> dict[str, int]:
    return {step.name: i for i, step in enumerate(found.shared.steps, start=1)}


def _asked(found: TestPlan) -> list[AskedRow]:
    steps, characteristics = _steps(found), found.job.characteristics
    served = {step.name: len(step.parts) for step in found.shared.steps}
    rows = []
    for a in sorted(found.asked, key=lambda a: steps.get(a.name, 10**6)):
        c = characteristics[a.name]
        unit = unit_sign(c.unit) + (" abs" if c.pressure else "")
        rows.append(
            AskedRow(str(steps.get(a.name, "–")), a.name, unit, limits_text(c), a.gauge or NO_GAUGE,
                     _of(served.get(a.name, 0), a.n), a.rule, _proves(a), a.safety, bool(a.lost_in))
        )  # fmt: skip
    rows += [
        AskedRow(str(steps.get(x.name, "–")), x.name, "", f"run {x.run}", "–",
                 _of(found.lots * served.get(x.name, 0), x.n), "no failure (Weibull)", _survives(x), False, x.lost)
        for x in found.life
    ]  # fmt: skip
    for k in found.checks:
        rule = f"ISO 2859-1 {k.level}, AQL {k.aql:g}"
        says = f"accept with {k.plan.accept}, reject with {k.plan.reject} nonconforming"
        rows.append(AskedRow("–", k.name, "", f"lot of {k.lot}", "–", f"{k.plan.n} of the lot", rule, says))
    return rows


def _of(served: int, asked: int) -> str:
    return str(served) if served >= asked else f"{served} of {asked}"


def _proves(a: Asked) -> str:
    if a.rule == "no number of parts":
        return "nothing, as it is foreseen"
    if not a.proven:
        return "nothing yet"
    return f"{share(a.proven, bound='>')} inside" + (", when all conform" if a.rule == "success run" else "")


def _survives(x: Life) -> str:
    return f"{share(x.reliability)} survive, confidence {share(x.reached)}"


def _notes(found: TestPlan) -> list[str]:
    notes = []
    by_why: dict[str, list[str]] = {}
    for a in found.asked:
        if a.why:
            by_why.setdefault(a.why, []).append(a.name)
    notes += [f"{', '.join(names)}: {why}." for why, names in by_why.items()]
    rare = [a for a in found.asked if a.chance is not None and a.chance < 0.8]
    if rare and found.job.first_offs.chance is None:
        worst = min(rare, key=lambda a: a.chance or 0.0)
        more = [f"{a.name} {a.n_often}" for a in rare if a.n_often]
        notes.append(
            f"A sample scatters about what is foreseen: with these parts {worst.name}, the least sure, is proven in "
            f"{share(worst.chance or 0.0)} of such lots. "
            + (f"For four times out of five: {', '.join(more[:6])} parts." if more else "")
        )
    missing = [f"{name} {n}" for name, n in found.shared.short.items()]
    if missing:
        notes.append(f"Parts missing for the confidence asked: {', '.join(missing)}.")
    if found.shared.lost:
        tests = dict.fromkeys(found.shared.lost.values())
        lost = [f"{_run(found, [p for p, t in found.shared.lost.items() if t == test])} in {test}" for test in tests]
        notes.append(f"Parts lost{' (first lot)' if found.lots > 1 else ''}: {', '.join(lost)}; all else comes before.")
    return notes


def _run(found: TestPlan, parts: list[int]) -> str:
    """`FO-04 to FO-08`: the parts of one test stand side by side."""
    first, last = found.part(0, parts[0]), found.part(0, parts[-1])
    return first if first == last else f"{first} to {last}"


def _forms(found: TestPlan) -> list[Form]:
    forms = []
    for lot in range(found.lots):
        for start in range(0, found.shared.parts, COLUMNS):
            parts = range(start, min(start + COLUMNS, found.shared.parts))
            rows = [_form_row(found, i, parts) for i in range(len(found.shared.steps))]
            names = tuple(found.part(lot, p) for p in parts)
            forms.append(Form(f"L{lot + 1}", names, tuple(r for r in rows if READ in r.cells)))
    return forms


def _form_row(found: TestPlan, index: int, parts: range) -> FormRow:
    step = found.shared.steps[index]
    c = found.job.characteristics.get(step.name)
    cells = tuple(READ if p in step.parts else NONE for p in parts)
    if c is None:
        return FormRow(str(index + 1), step.name, "", "no failure", "–", cells)
    unit = unit_sign(c.unit) + (" abs" if c.pressure else "")
    return FormRow(str(index + 1), c.name, unit, limits_text(c), step.gauge or NO_GAUGE, cells, c.safety)


def book_rows(found: TestPlan) -> list[BookRow]:
    """One line a reading, in the order of work, lot by lot."""
    characteristics = found.job.characteristics
    units = units_of(dict(characteristics))
    rows = []
    for lot in range(found.lots):
        for i, step in enumerate(found.shared.steps, start=1):
            if step.name not in characteristics:
                continue
            c = characteristics[step.name]
            note = "the part is lost" if step.lost_in else ""
            note = ", ".join(filter(None, (note, "safety" if c.safety else "")))
            rows += [
                BookRow(i, found.part(lot, p), f"L{lot + 1}", c.name, units[c.name], step.gauge, limits_text(c), note)
                for p in step.parts
            ]
    return rows


def units_offered(found: TestPlan) -> list[str]:
    """Every unit of the plan, and the usual others of its kind."""
    offered: dict[str, None] = {}
    for unit in units_of(dict(found.job.characteristics)).values():
        offered[unit] = None
        for kind in KINDS:
            try:
                if same_dimension(unit, kind[1]):
                    offered |= dict.fromkeys(kind[1:])
            except QuantityError:  # `bar abs` stands for itself
                break
    return list(offered)


def write_test_plan(found: TestPlan, folder: Path) -> list[Path]:
    """`first-off-sheet.pdf` to hang up and fill in by hand, `first-off-sheet.xlsx` to fill in and prove."""
    claim(found.job, folder)
    sheet = first_off_sheet(found)
    return [
        write_bytes(folder / FILES[0], first_off_pdf(sheet)),
        write_bytes(folder / FILES[1], first_off_xlsx(sheet, book_rows(found), units_offered(found))),
    ]


def assumptions(found: TestPlan) -> list[str]:
    """What the plan takes without evidence, for plan.md."""
    return [f"test plan: {text}" for text in found.assumed]
