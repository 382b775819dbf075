"""What everything rests on: settings, assumptions with their source, gauges, cautions, rules and formulas."""

from __future__ import annotations

from importlib import import_module

from firstoff import __version__
from firstoff.launch.account import ALWAYS, in_unit, limits_text
from firstoff.launch.calculations import MODULES
from firstoff.launch.job import Job
from firstoff.launch.plan import LaunchPlan, sources
from firstoff.launch.release import LaunchRelease
from firstoff.launch.setup_pages import operations
from firstoff.report.pages import Section, Table, marked
from firstoff.report.tables import unit_sign, unit_signs
from firstoff.sheets.units import format_number, size_from_si

RULES = (
    ("verdict on a part", "ISO 14253-1 (2013 and 2017 editions, from memory); JCGM 106:2012"),
    ("verdict on a lot", "ISO 16269-6:2014, normal tolerance interval, exact factor; NIST/SEMATECH e-Handbook 7.2.6.3"),
    ("gauge uncertainty", "JCGM 100:2008"),
    ("repeat readings", "ISO 5725-6, critical range (from memory)"),
    ("trial builds", "scrambled Sobol points; interval of a rate: Clopper & Pearson 1934, Korn & Graubard 1998"),
    ("explanation", "Bayes' theorem over declared faults, their frequency and sizes assumed"),
    (
        "release, hold, concession",
        "rules of this tool, where its lines are drawn: assumed (common practice, no source)",
    ),
)


def plan_sections(plan: LaunchPlan) -> list[Section]:
    """Settings by station, then every assumption and every parameter with its source."""
    route, model, rows = [], [], []
    for op, _, station in operations(plan):
        settled = plan.plans[station.name]
        for i, (what, value) in enumerate(settled.setup or (("nothing is set here", ""),)):
            route.append((op if i == 0 else "", station.title if i == 0 else "", what, unit_signs(value)))
        model += [f"{station.title}: {text}" for text in settled.assumptions]
        for v in settled.values:
            sds = [format_number(size_from_si(s.sd, v.unit), 3) if s and s.sd else "" for s in (v.lot, v.part)]
            rows.append((v.name, in_unit(v.nominal, v.unit, 6), unit_sign(v.unit), *sds, "yes" if v.assumed else "",
                         sources(v)))  # fmt: skip
    heads = ("parameter", "nominal", "unit", "lot sd", "part sd", "assumed", "source")
    note = "assumed: the value is a default, or its scatter was read from a tolerance or taken without data."
    settings = Table(("", "station", "what", "set to"), tuple(route))
    warnings = tuple(m.as_text() for m in plan.warnings)
    first = Section("Settings", (), warnings, tables=(settings,))
    said = "What the models take without evidence; a result that hangs on one of these is only as good as it is."
    second = Section(
        "Assumptions and their source", (), (said,), tuple(model),
        tables=(Table(heads, tuple(rows), "Every parameter", note),),
    )  # fmt: skip
    return [first, second]


def closing_sections(job: Job, plan: LaunchPlan | None, release: LaunchRelease | None) -> list[Section]:
    """Cautions of every station, then gauges, rules, formulas and the version."""
    found = []
    if plan:
        rows = [(op, s.title, text) for op, _, s in operations(plan) for text in plan.plans[s.name].cautions]
        found.append(Section("Cautions", (ALWAYS,), tables=(Table(("", "station", "caution"), tuple(rows)),)))
    judging = job.judging
    rule = release.proof.rule if release else judging.rule
    paragraphs = (
        f"Decision rule {rule}; {100 * judging.coverage:g} % of a lot inside the limits, with "
        f"{100 * judging.confidence:g} % confidence. Computed by firstoff {__version__}.",
    )
    tables = [*_gauges(job), *_limits(job), Table(("what", "source"), RULES, "Rules and methods")]
    tables += _formulas(job)
    found.append(Section("Gauges, limits and sources", (), paragraphs, tables=tuple(tables)))
    return found


def _gauges(job: Job) -> list[Table]:
    rows = []
    for gauge in job.gauges.values():
        c = job.characteristics[gauge.characteristics[0]]
        found = (gauge.u, gauge.resolution, gauge.repeatability)
        sizes = [format_number(size_from_si(x, c.unit), 3) if x else "" for x in found]
        rows.append((gauge.name, ", ".join(gauge.characteristics), unit_sign(c.unit), *sizes, gauge.source))
    heads = ("gauge", "measures", "unit", "u", "resolution", "repeatability", "source")
    return [Table(heads, tuple(rows), "Gauges", "u: combined standard uncertainty of one reading.")] if rows else []


def _limits(job: Job) -> list[Table]:
    known = job.characteristics.values()
    rows = tuple((c.name, f"{limits_text(c)} {unit_sign(c.unit)}".strip(), c.what) for c in known)
    table = Table(("characteristic", "limits", "what it is"), rows, "Characteristics of the sheet")
    return [marked(table, [c.safety for c in known])]


def _formulas(job: Job) -> list[Table]:
    """Sources of the formulas of this family, as the pocket calculator states them."""
    if job.family.name not in MODULES:
        return []
    known = import_module(f"firstoff.launch.calculations.{job.family.name}").CALCULATIONS
    rows = tuple((c.title, c.source) for c in known)
    return [Table(("formula", "source"), rows, "Formulas")]
