"""The account of a gauge study as plain text, as a page and as the sections of a paper."""

from __future__ import annotations

from pathlib import Path

from firstoff import __version__
from firstoff.launch.account import ALWAYS, in_unit
from firstoff.launch.gauge import LaunchGauge
from firstoff.launch.write import write_bytes, write_text
from firstoff.methods.kappa import Agreement
from firstoff.report.pages import Paper, Section, Table
from firstoff.report.printing import paper_pdf
from firstoff.report.tables import number, probability, share, table, unit_sign, wrap
from firstoff.sheets.units import size_from_si
from firstoff.trials.gauge_study import Crossed
from firstoff.trials.sorting import Share, Sorting

KIND = {"repeatability": "repeats", "appraiser": "people", "part": "parts", "total": "total",
        "appraiser_x_part": "people × parts"}  # fmt: skip


def gauge_text(found: LaunchGauge) -> str:
    """The whole account for a terminal."""
    lines = [f"GAUGE  {', '.join(found.study.files)}"]
    for section in sections(found):
        lines += ["", section.title, *(line for text in section.paragraphs for line in wrap(text, 110))]
        for t in section.tables:
            lines += ["", *([t.title] if t.title else []), table(t.heads, t.rows, width=120), *wrap(t.note, 110)]
        lines += [f"- {text}" for text in section.items]
    return "\n".join(line for i, line in enumerate(lines) if line or lines[i - 1])


def sections(found: LaunchGauge) -> tuple[Section, ...]:
    """What the study says, part by part."""
    made = []
    if found.study.crossed:
        made.append(_crossed(found, found.study.crossed))
    if found.study.line:
        made.append(_line(found))
    if found.study.sorting:
        made.append(_sorting(found.study.sorting, found.study.confidence))
    if found.study.uncertainty:
        made.append(_uncertainty(found))
    return tuple(made)


def _size(x: float | None, unit: str) -> str:
    return number(None if x is None else size_from_si(x, unit or "1"), 3)


def _interval(x: tuple[float, float, float], unit: str) -> tuple[str, str]:
    return _size(x[0], unit), f"{_size(x[1], unit)} to {_size(x[2], unit)}"


def _held(found: LaunchGauge) -> str:
    return f"{100 * found.study.confidence:g} % interval"


def _crossed(found: LaunchGauge, c: Crossed) -> Section:
    unit = found.study.unit
    people = "1 person" if c.appraisers == 1 else f"{c.appraisers} people"
    rows = [("repeatability (EV)", *_interval(c.repeatability, unit))]
    if c.reproducibility is not None:
        rows.append(("reproducibility (AV), interaction in it", _size(c.reproducibility, unit), ""))
        rows.append(("both together (GRR)", *_interval(c.grr, unit)))
    rows.append(("between parts (PV)", _size(c.part, unit), ""))
    said = [f"{people}, {c.parts} parts, {c.trials} times each."]
    said.append(f"GRR is {share(c.share_of_total)} of the total standard deviation; "
                f"{number(c.ndc, 3)} classes of parts can be told apart (1.41 PV/GRR).")  # fmt: skip
    if found.of_tolerance is not None:
        said.append(f"6 GRR fills {share(min(found.of_tolerance, 1.0)) if found.of_tolerance <= 1 else 'more than all'}"
                    " of the tolerance.")  # fmt: skip
    tables = [Table(("standard deviation", unit_sign(unit) or "1", _held(found)), tuple(rows))]
    if c.table:
        a = c.table
        order = ("part", "appraiser", "appraiser_x_part", "repeatability", "total")
        squares = tuple(
            (KIND[name], str(a.df[name]), number(a.ss[name] / _factor(unit) ** 2, 4),
             number(a.ms(name) / _factor(unit) ** 2, 4) if name != "total" else "–",
             f"{number(a.f_interaction, 4)} (p {probability(a.p_interaction)})" if name == "appraiser_x_part" else "–")
            for name in order
        )  # fmt: skip
        kept = "pooled into repeatability" if c.pooled else "kept, and counted in reproducibility"
        square = f" [{unit_sign(unit)}²]" if unit_sign(unit) else ""
        heads = ("source", "df", f"sum of squares{square}", f"mean square{square}", "F")
        tables.append(Table(heads, squares, "Analysis of variance",
                            f"The interaction is {kept} (pooled from p 0.25 on)."))  # fmt: skip
    return Section("Repeats and people", paragraphs=tuple(said), tables=tuple(tables))


def _factor(unit: str) -> float:
    from firstoff.sheets.units import lookup

    return lookup(unit or "1").factor


def _line(found: LaunchGauge) -> Section:
    line, unit = found.study.line, found.study.unit
    assert line is not None
    sign = unit_sign(unit)
    said = [f"Mean bias {_size(line.bias, unit)} {sign} (standard error {_size(line.bias_error, unit)}, "
            f"p {probability(line.bias_p)}) over {line.n} readings."]  # fmt: skip
    if line.slope is not None and line.slope_p is not None and line.slope_error is not None:
        grows = "changes" if line.slope_p < 1.0 - found.study.confidence else "is not seen to change"
        said.append(f"The bias {grows} over the range: slope {number(line.slope, 3)} "
                    f"(standard error {number(line.slope_error, 2)}, p {probability(line.slope_p)}), "
                    f"intercept {_size(line.intercept, unit)} {sign}, "
                    f"scatter about the line {_size(line.s, unit)} {sign}.")  # fmt: skip
    said.append(f"Largest bias counted: {_size(line.largest, unit)} {sign}.")
    rows = tuple((in_unit(x, unit or "1", 6), str(n), _size(bias, unit)) for x, n, bias in line.at)
    heads = (f"reference [{sign or '1'}]", "readings", f"mean bias [{sign or '1'}]")
    return Section("Bias and linearity", paragraphs=tuple(said), tables=(Table(heads, rows),))


def _share(x: Share | None) -> str:
    return "–" if x is None else f"{share(x[0])} ({share(x[1])} to {share(x[2])})"


def _kappa(x: Agreement | None) -> str:
    if x is None:
        return "–"
    return f"{x.kappa:.2f}" + ("" if x.low is None or x.high is None else f" ({x.low:.2f} to {x.high:.2f})")


def _sorting(found: Sorting, confidence: float) -> Section:
    held = f"{100 * confidence:g} % interval"
    rows = tuple(
        (s.name, _share(s.with_self), _share(s.effectiveness), _kappa(s.against_reference), _share(s.missed),
         _share(s.false_alarms)) for s in found.sorters
    )  # fmt: skip
    heads = ("person", "alike in all trials", "right in all trials", "kappa to reference", "bad let pass",
             "good refused")  # fmt: skip
    times = "once" if found.trials == 1 else f"{found.trials} times"
    said = [f"{len(found.sorters)} people, {found.parts} parts, {times} each; verdicts {', '.join(found.categories)}. "
            f"Behind each figure its {held}.",
            f"All verdicts agree on {_share(found.together)} of the parts"
            + (f", and are right on {_share(found.together_right)}." if found.together_right else "."),
            f"Kappa of all verdicts (Fleiss): {_kappa(found.between)}."]  # fmt: skip
    note = "Bad let pass and good refused count verdicts; repeats of one part are not independent."
    return Section("Verdicts", paragraphs=tuple(said), tables=(Table(heads, rows, note=note),))


def _uncertainty(found: LaunchGauge) -> Section:
    u, unit = found.study.uncertainty, found.study.unit
    assert u is not None
    rows = (
        ("repeatability, or the display's step if larger", _size(u.repeatability, unit)),
        ("reproducibility", _size(u.reproducibility, unit)),
        ("bias, its error and the references", _size(u.bias, unit)),
        ("combined standard uncertainty u of one reading", _size(u.u, unit)),
    )
    said = "u² is the sum of the squares. The bias is not corrected in the readings: its largest size over √3 counts."
    return Section("Uncertainty", paragraphs=(said,), items=tuple(m.what for m in found.study.messages),
                   tables=(Table(("part", unit_sign(unit) or "1"), rows, bold=(3,)),))  # fmt: skip


def write_gauge(found: LaunchGauge, folder: Path, name: str) -> list[Path]:
    """`NAME.md` and `NAME.pdf`."""
    page = f"# Gauge study {', '.join(found.study.files)}\n\n{ALWAYS}\n\n```\n{gauge_text(found)}\n```\n\n## From\n\n"
    page += "".join(f"- {file}: sha256 {digest}\n" for file, digest in found.sha256.items())
    paper = Paper("Gauge study", ", ".join(found.study.files), "", "", __version__, sections(found),
                  hashes=tuple(found.sha256.items()))  # fmt: skip
    return [write_text(folder / f"{name}.md", f"{page}\nfirstoff {__version__}\n"),
            write_bytes(folder / f"{name}.pdf", paper_pdf(paper))]  # fmt: skip
