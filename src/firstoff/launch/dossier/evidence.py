"""The evidence: what trial builds expect, what was read on each part, how it was judged, and what explains it."""

from __future__ import annotations

from collections.abc import Mapping

from firstoff.launch.account import SAFETY_NOTE, in_unit, leading_parameters, limits_text, named, rate_text
from firstoff.launch.explaining.account import WHO
from firstoff.launch.explaining.explain import LaunchExplanation
from firstoff.launch.folder import ACROSS, across_heads, across_row, lot_heads, lot_row
from firstoff.launch.predict import LaunchPrediction
from firstoff.launch.prove import Proof
from firstoff.report.pages import Figure, Section, Table, marked
from firstoff.report.tables import number, probability, unit_sign
from firstoff.sheets.units import size_from_si
from firstoff.trials.verdicts import PartVerdict

COLUMNS = 8  # parts side by side
SIGNS = {"conforms": "", "does not conform": " ✗", "not proven": " ?"}
CURVE, SHARES = "force-velocity.svg", "share-of-scatter.svg"


def prediction_sections(prediction: LaunchPrediction, figures: Mapping[str, Figure]) -> list[Section]:
    """Spread and share outside limits of the trial builds, and which station carries it."""
    found = prediction.builds
    rows: list[tuple[str, ...]] = []
    safety: list[bool] = []
    for c in found.characteristics:
        if c.outside is None:
            continue
        safety.append(c.characteristic.safety)
        k, scatter = c.characteristic, c.scatter
        mean, sd = ("–", "–") if scatter is None else (in_unit(scatter.mean, k.unit, 5),
                                                       number(size_from_si(scatter.sd, k.unit), 2))  # fmt: skip
        rows.append(
            (k.name, unit_sign(k.unit), in_unit(c.nominal, k.unit, 5), mean, sd,
             limits_text(k), rate_text(c.outside), leading_parameters(prediction, k.name))
        )  # fmt: skip
    heads = ("characteristic", "unit", "nominal", "mean", "sd", "limits", "outside (95 % interval)", "carried by")
    lots = "every build from a lot of its own" if not found.parts_per_lot else "each scramble one lot"
    paragraphs = [
        f"{found.n} trial builds, seed {found.seed}, {lots}. Any characteristic outside: "
        f"{rate_text(found.any_outside)}.",
        f"{len(found.assumed)} scattering parameters have a scatter read from a tolerance or assumed; these rates echo "
        "it until it is measured. A prediction may hold a release; only readings may release a safety characteristic.",
    ]
    for station, words in found.status.items():
        odd = ", ".join(f"{count} {word}" for word, count in words.items() if word != "ok" and count)
        paragraphs += [f"Builds of {station}: {odd}."] if odd else []
    shown = tuple(figures[name] for name in (SHARES,) if name in figures)
    expected = marked(Table(heads, tuple(rows)), safety)
    return [Section("Prediction", (), tuple(paragraphs), tables=(expected,), figures=shown)]


def reading_sections(proof: Proof, figures: Mapping[str, Figure]) -> list[Section]:
    """Every part's readings with their verdict, then the lot's."""
    note = "✗ does not conform; ? not proven by its gauge or without limits; else conforms. Means of repeat readings."
    tables = []
    for lot in dict.fromkeys(v.lot for v in proof.judgement.parts):
        verdicts = [v for v in proof.judgement.parts if v.lot == lot]
        parts = list(dict.fromkeys(v.part for v in verdicts))
        for start in range(0, len(parts), COLUMNS):
            block = parts[start : start + COLUMNS]
            title = f"Lot {lot}" if lot else "Parts"
            title += f", parts {start + 1} to {start + len(block)} of {len(parts)}" if len(parts) > COLUMNS else ""
            tables.append(Table(("characteristic", "unit", *block), _readings(proof, verdicts, block), title, note))
    remarks = tuple(m.as_text() for m in proof.trial.messages)
    shown = tuple(figures[name] for name in (CURVE,) if name in figures)
    read = Section("Readings", (), (f"From {_file(proof.trial.file)}.", *remarks), tables=tuple(tables), figures=shown)
    rows = tuple(lot_row(v, proof) for v in proof.judgement.lots)
    bold = tuple(i for i, v in enumerate(proof.judgement.lots) if v.verdict == "does not conform")
    lot_note = "The intervals hold for any error that all readings share, up to the guard band, too. " + SAFETY_NOTE
    judged = Table(lot_heads(proof.job), rows, "The lot", lot_note, bold)
    not_read = (f"Not read, so not proven: {', '.join(proof.not_read)}.",) if proof.not_read else ()
    said = "A verdict speaks of the readings taken; it is no certificate."
    across = tuple(across_row(one) for one in proof.across)
    whole = (Table(across_heads(proof.job), across, "All lots together", ACROSS),) if across else ()
    return [read, Section("Verdicts", (), (*not_read, said), tables=(judged, *whole))]


def _file(path: str) -> str:
    return path.replace("\\", "/").rsplit("/", 1)[-1]


def _readings(proof: Proof, verdicts: list[PartVerdict], parts: list[str]) -> tuple[tuple[str, ...], ...]:
    rows = []
    for name in dict.fromkeys(v.characteristic for v in verdicts):
        c = proof.characteristics[name]
        of = {v.part: v for v in verdicts if v.characteristic == name}
        cells = [f"{in_unit(of[p].value, c.unit, 5)}{SIGNS[of[p].verdict]}" if p in of else "–" for p in parts]
        rows.append((named(c), unit_sign(c.unit), *cells))
    return tuple(rows)


def explanation_sections(explanation: LaunchExplanation, several: bool) -> list[Section]:
    """Ranked causes, what cannot be told apart, and what the model does not see."""
    found = explanation.found
    lot = explanation.trial.readings[0].lot
    who = ", ".join(
        f"{WHO[w]} {probability(p)}" for w, p in sorted(found.who.items(), key=lambda x: -x[1]) if p >= 0.01
    )
    paragraphs = [
        f"Who is affected: {who}. Nothing is wrong: {probability(found.none)}. Something nobody declared: "
        f"{probability(found.other)}.",
        *(f"{text[0].upper()}{text[1:]}." for text in found.statements),
        "A probable cause is no proof: confirm it before anything is changed.",
    ]
    causes = tuple(
        (c.title, ", ".join(s.replace("_", " ") for s in c.stations), c.who, explanation.size_text(c),
         probability(c.probability), ", ".join(name for name, gain in c.readings[:4] if gain > 0.5))
        for c in found.causes if c.probability >= 0.01
    )  # fmt: skip
    heads = ("likely cause", "station", "who", "size", "probability", "spoken for by")
    tables = [Table(heads, causes, "Causes, ranked")] if causes else []
    tables += _stated(explanation)
    alike = [
        (c.title, "; ".join(_titles(explanation, c.alike))) for c in found.causes if c.alike and c.probability >= 0.01
    ]
    if alike:
        tables.append(Table(("cause", "these readings do not tell it from"), tuple(alike), "Not told apart"))
    limits = [f"Would hardly show in these readings: {title}." for title in _titles(explanation, found.unseen)]
    limits += [f"Not seen by the model: {text}." for text in explanation.plan.job.family.not_seen]
    limits += [f"Read but computed by no station: {name}." for name in explanation.prepared.not_used]
    limits += [f"Assumed: {text}." for text in explanation.assumptions]
    title = "Explanation" + (f" of lot {lot}" if several and lot else "")
    return [
        Section(title, (), tuple(paragraphs), tables=tuple(tables)),
        Section("What the explanation cannot see" + (f" (lot {lot})" if several and lot else ""), items=tuple(limits)),
    ]


def _titles(explanation: LaunchExplanation, names: tuple[str, ...]) -> list[str]:
    return [explanation.faults[n].title if n in explanation.faults else n for n in names]


def _stated(explanation: LaunchExplanation) -> list[Table]:
    names = dict.fromkeys(
        n for c in explanation.found.causes[:3] if c.probability >= 0.05 for n in c.name.split(" + ")
        if n in explanation.faults
    )  # fmt: skip
    faults = [explanation.faults[n] for n in names]
    rows = tuple((f.title, f.confirm, f.cure, f.beware) for f in faults)
    heads = ("cause", "to confirm", "to cure", "beware")
    return [Table(heads, rows, "What its station says")] if rows else []
