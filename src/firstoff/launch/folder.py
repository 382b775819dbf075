"""The launch folder: pages and figures that can always be made again from the sheets and readings."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from firstoff import __version__
from firstoff.launch.account import ALWAYS, in_unit, named, plan_text, predict_text
from firstoff.launch.account_proof import lot_name, prove_text, share_text, verdicts_csv
from firstoff.launch.explaining.account import explain_text
from firstoff.launch.explaining.explain import LaunchExplanation
from firstoff.launch.finishing.account import finish_page, finish_text
from firstoff.launch.finishing.plan import FinishPlan
from firstoff.launch.job import Job, sha256
from firstoff.launch.owner import claim
from firstoff.launch.plan import LaunchPlan, sources
from firstoff.launch.predict import LaunchPrediction
from firstoff.launch.prove import Proof
from firstoff.launch.setup_pages import checks
from firstoff.launch.test_plan.paper import assumptions, test_plan_text
from firstoff.launch.test_plan.test_plan import TestPlan
from firstoff.launch.thickness_map import write_thickness
from firstoff.launch.traces.loops import write_loops
from firstoff.launch.write import write_text
from firstoff.report.setup_sheet import setup_markdown
from firstoff.report.tables import number, probability
from firstoff.sheets.units import size_from_si
from firstoff.trials.capability import AcrossLots
from firstoff.trials.readings import Trial
from firstoff.trials.verdicts import LotVerdict


def write_plan(
    plan: LaunchPlan, folder: Path, tests: TestPlan | None = None, finish: FinishPlan | None = None
) -> list[Path]:
    """`plan.md`, one setup sheet per station, the plating line's windows where there is one, and of a plated bar its
    thickness along it."""
    job = plan.job
    claim(job, folder)
    written = [write_text(folder / "plan.md", _plan_page(plan, tests, finish))]
    for station in plan.route:
        settled = plan.plans[station.name]
        op = job.family.operation(station.name)
        page = setup_markdown(
            op,
            station.title,
            settled.setup,
            settled.assumptions,
            settled.cautions,
            f"{job.name} {job.revision}".strip(),
            job.plant,
            __version__,
            tuple(checks(job, settled.gives)),
        )
        written.append(write_text(folder / "setup" / f"op{op:03d}-{station.name}.md", page))
    if finish is not None:
        page = finish_page(finish, f"{job.name} {job.revision}".strip())
        written.append(write_text(folder / "setup" / "line-windows.md", page))
    return [*written, *write_thickness(plan, folder)]


def _plan_page(plan: LaunchPlan, tests: TestPlan | None, finish: FinishPlan | None) -> str:
    job = plan.job
    parts = [
        f"# {job.name}: plan",
        "",
        ALWAYS,
        "",
        "```",
        plan_text(plan),
        *(("", finish_text(finish)) if finish else ()),
        *(("", test_plan_text(tests)) if tests else ()),
        "```",
        "",
        "## Assumptions and their source",
    ]
    assumed = [*plan.assumptions(), *(assumptions(tests) if tests else ())]
    parts += ["", *(f"- {line}" for line in assumed), "", "## Every parameter", ""]
    parts += ["| parameter | nominal | unit | lot sd | part sd | source |", "| --- | --- | --- | --- | --- | --- |"]
    for settled in plan.plans.values():
        for v in settled.values:
            sds = [_sd(s.sd if s else 0.0, v.unit) for s in (v.lot, v.part)]
            nominal = in_unit(v.nominal, v.unit, 6)
            parts.append(f"| {v.name} | {nominal} | {v.unit} | {sds[0]} | {sds[1]} | {sources(v)} |")
    return "\n".join([*parts, "", made_from(job), f"firstoff {__version__}", ""])


def made_from(job: Job, *readings: Path) -> str:
    """The section of a page that says from which sheets, in which revision, and readings it was made."""
    digests = {**job.sha256, **{file.name: sha256(file) for file in readings if file.is_file()}}
    revision = f"- {job.name}, revision {job.revision}\n" if job.revision else ""
    return f"## From\n\n{revision}" + "".join(f"- {name}: sha256 {digest}\n" for name, digest in digests.items())


def sources_of(trial: Trial) -> list[Path]:
    """The files that readings and traces came from."""
    return [Path(trial.file), *(Path(file) for file in dict.fromkeys(r.file for r in trial.runs))]


def _sd(sd: float, unit: str) -> str:
    return number(size_from_si(sd, unit), 3) if sd else ""


def write_prediction(prediction: LaunchPrediction, folder: Path) -> list[Path]:
    """`predict.md`, the share of scatter as a route card, and of a plated bar its thickness along it."""
    job = prediction.plan.job
    claim(job, folder)
    page = f"# {job.name} {job.revision}: prediction\n\n{ALWAYS}\n\n```\n{predict_text(prediction)}\n```\n\n"
    page += f"{made_from(job)}\nfirstoff {__version__}\n"
    figures = [*write_shares(prediction, folder), *write_thickness(prediction.plan, folder, prediction)]
    return [write_text(folder / "predict.md", page), *figures]


def write_shares(prediction: LaunchPrediction, folder: Path) -> list[Path]:
    """The share of scatter as a route card; nothing when no characteristic has limits."""
    from firstoff.report.share_figure import route_card

    job, shares, written = prediction.plan.job, prediction.shares, []
    stations = prediction.plan.route
    limited = [c.characteristic for c in prediction.builds.characteristics if c.outside is not None]
    columns = [shares.characteristics.index(c.name) for c in limited]
    if columns:
        route = [(job.family.operation(s.name), s.title) for s in stations]
        rows = [shares.stations.index(s.name) for s in stations]
        written.append(
            route_card(
                folder / "share-of-scatter.svg",
                stations=route,
                characteristics=[c.name for c in limited],
                shares=shares.by_station[np.ix_(rows, columns)],
                leading=[_leading(prediction, s.name, columns) for s in stations],
                title=f"{job.name}: share of scatter by station",
            )
        )
    return written


def _leading(prediction: LaunchPrediction, station: str, columns: list[int]) -> str:
    """The parameter of a station with the largest share of any characteristic."""
    shares = prediction.shares
    own = [i for i, name in enumerate(shares.parameters) if name.startswith(f"{station}.")]
    if not own or not columns:
        return ""
    largest = shares.total[np.ix_(own, columns)].max(axis=1)
    best = int(np.argmax(largest))
    return shares.parameters[own[best]].split(".", 1)[1].replace("_", " ") if largest[best] >= 0.05 else ""


def write_proof(proof: Proof, folder: Path) -> list[Path]:
    """`prove.md` with the verdicts and what they rest on, and `verdicts.csv` with every part."""
    job = proof.job
    claim(job, folder)
    page = f"# {job.name} {job.revision}: proof\n\n{ALWAYS}\n\n```\n{prove_text(proof)}\n```\n\n## The lot\n\n"
    heads = lot_heads(job)
    rows = [heads, ("---",) * len(heads), *(lot_row(v, proof) for v in proof.judgement.lots)]
    page += "".join("| " + " | ".join(row) + " |\n" for row in rows)
    page += (
        f"\nThe tolerance interval holds {job.judging.coverage:.4g} of the lot with confidence "
        f"{job.judging.confidence:.4g}; it must stay inside the limits, and clear of them by the guard band of the "
        "gauge's error that all readings share. The intervals of the share outside and of Ppk hold for any such error "
        "up to that guard band, too.\n\n"
    )
    page += _distributions(proof)
    if proof.across:
        heads = across_heads(job)
        page += f"## All lots together\n\n{ACROSS}\n\n"
        across = [heads, ("---",) * len(heads), *(across_row(one) for one in proof.across)]
        page += "".join("| " + " | ".join(row) + " |\n" for row in across) + "\n"
    page += made_from(job, *sources_of(proof.trial))
    written = [write_text(folder / "prove.md", f"{page}\nfirstoff {__version__}\n")]
    written.append(write_text(folder / "verdicts.csv", verdicts_csv(proof)))
    return [*written, *(write_loops(proof.plan, proof.trial, folder) if proof.plan else [])]


def _distributions(proof: Proof) -> str:
    """What the figures of lots rest on, where that is not a normal distribution."""
    text = (
        "Distribution: normal unless 20 parts or more speak against it (Shapiro and Wilk, 1 %); then lognormal, "
        "Weibull or Rayleigh, with Pp and Ppk by the quantile method of ISO 22514-2, or none.\n\n"
    )
    for v in proof.judgement.lots:
        if v.model not in ("", "normal"):
            of = f" ({lot_name(v.lot)})" if len(proof.lots) > 1 else ""
            text += f"- {v.characteristic}{of}, {v.model}: {v.model_why}.\n"
    return text + "\n"


def lot_heads(job: Job) -> tuple[str, ...]:
    """Heads of `lot_row`."""
    held = f"{100 * job.judging.confidence:.4g} %"
    return (
        "characteristic", "verdict", "why", "tolerance interval", "kept clear of limits by",
        f"share outside ({held} interval)", f"Pp ({held} interval)", f"Ppk ({held} interval)", "distribution",
    )  # fmt: skip


def lot_row(v: LotVerdict, proof: Proof) -> tuple[str, ...]:
    """The verdict on one characteristic of a lot, with its figures."""
    unit = proof.characteristics[v.characteristic].unit
    low, high = (in_unit(x, unit, 5) for x in (v.interval_low, v.interval_high))
    interval = "–" if v.factor is None else f"{low} to {high} {unit}"
    clear = "–" if v.widened is None else f"{number(size_from_si(v.widened, unit), 3)} {unit}"
    name = named(proof.characteristics[v.characteristic])
    if len(proof.lots) > 1:
        name += f" ({lot_name(v.lot)})"
    return (name, v.verdict, v.reason, interval, clear, share_text(v), *_indices(v), v.model or "–")


def write_explanation(explanation: LaunchExplanation, folder: Path) -> list[Path]:
    """`explain.md`: the likely cause, and what was taken without evidence."""
    job = explanation.plan.job
    claim(job, folder)
    page = f"# {job.name} {job.revision}: explanation\n\n{ALWAYS}\n\n```\n{explain_text(explanation)}\n```\n\n"
    page += "## Assumed\n\n" + "".join(f"- {text}\n" for text in explanation.assumptions)
    page += f"\n{made_from(job, *sources_of(explanation.trial))}\nfirstoff {__version__}\n"
    written = write_text(folder / "explain.md", page)
    return [written, *write_loops(explanation.plan, explanation.trial, folder, explanation.good)]


def _indices(v: LotVerdict) -> tuple[str, str]:
    return index_text(v.pp, v.pp_low, v.pp_high), index_text(v.ppk, v.ppk_low, v.ppk_high)


def index_text(value: float | None, low: float | None, high: float | None) -> str:
    """`1.21 (0.80 to 1.61)`."""
    if value is None:
        return "–"
    return f"{value:.2f}" + ("" if low is None or high is None else f" ({low:.2f} to {high:.2f})")


ACROSS = (
    "Pp and Ppk are of all parts together; Cp and Cpk (ISO 22514-2) are of the scatter within lots, and are given only "
    "for lots that do not speak against a stable process."
)


def across_heads(job: Job) -> tuple[str, ...]:
    """Heads of `across_row`."""
    held = f"({100 * job.judging.confidence:.4g} %)"
    indices = (f"{name} {held}" for name in ("Pp", "Ppk", "Cp", "Cpk"))
    return ("characteristic", "lots", "parts", *indices, "lots alike, p", "")


def across_row(one: AcrossLots) -> tuple[str, ...]:
    """Performance and capability of a characteristic over all lots."""
    indices = (index_text(i.value, i.low, i.high) if i else "–" for i in (one.pp, one.ppk, one.cp, one.cpk))
    p = "–" if one.p_lots is None else probability(one.p_lots)
    return (one.characteristic, str(one.lots), str(one.n), *indices, p, one.words)
