"""The account of a proof: what does not conform, what is not proven, and the lot, in plain text."""

from __future__ import annotations

from firstoff.errors import counted
from firstoff.launch.account import in_unit, limits_text, named, safety_note
from firstoff.launch.against import Against
from firstoff.launch.prove import Proof
from firstoff.launch.readable import checked_beside
from firstoff.launch.traces.loops import traces_text
from firstoff.report.tables import number, probability, share, table, wrap
from firstoff.sheets.units import from_si, size_from_si
from firstoff.trials.verdicts import LotVerdict, PartVerdict

CSV_HEADER = (
    "part", "lot", "characteristic", "safety", "unit", "value", "low", "high", "u", "p_conform", "verdict", "gauge",
    "reason",
)  # fmt: skip


def prove_text(proof: Proof) -> str:
    """One line a lot and characteristic, the parts that do not conform or are not proven, and the prediction."""
    lots = proof.lots
    several = len(lots) > 1
    listed = ", ".join(f"{lot_name(lot)} with {counted(n, 'part')}" for lot, n in lots.items()) if several else ""
    count = f"{counted(len(proof.trial.readings), 'reading')} on {counted(sum(lots.values()), 'part')}"
    lines = [f"PROVE  {count}{f' of {len(lots)} lots ({listed})' if several else ''}, rule {proof.rule}"]
    if several:
        lines.append("Each lot is judged by itself.")
    heads = ("characteristic", "unit", "n", "mean", "sd", "limits", "parts ok/bad/open", "the lot")
    read_ones = {v.characteristic: proof.characteristics[v.characteristic] for v in proof.judgement.lots}
    for lot in lots:
        rows = [_lot_row(v, proof) for v in proof.judgement.lots if v.lot == lot]
        lines += ["", *([lot_name(lot)] if lot or several else []), table(heads, rows, width=120)]
    lines += [*safety_note(read_ones.values()), ""]
    if proof.trial.runs:
        units = {name: c.unit for name, c in checked_beside(proof.job).items()}
        units |= {name: c.unit for name, c in proof.characteristics.items()}
        lines += [traces_text(proof.trial, units), ""]
    lines += [*_parts(proof, "does not conform", "DO NOT CONFORM"), *_parts(proof, "not proven", "not proven")]
    lines += _open_lots(proof, several)
    if proof.not_read:
        unread = [named(proof.characteristics[name]) for name in proof.not_read]
        lines.append(f"Not read, so not proven: {', '.join(unread)}.")
    lines += [f"Remark: {m.as_text()}" for m in proof.trial.messages]
    for lot in dict.fromkeys(one.lot for one in proof.against):
        lines += ["", against_text(proof, lot, several)]
    lines += ["", "A verdict speaks of the readings taken; it is no certificate."]
    return "\n".join(lines)


def lot_name(lot: str) -> str:
    return f"lot {lot}" if lot else "the lot without a name"


def _open_lots(proof: Proof, several: bool) -> list[str]:
    """Why lots are not proven, each reason once."""
    reasons: dict[tuple[str, str], list[str]] = {}
    for v in proof.judgement.lots:
        if v.verdict == "not proven" and v.reason:
            reasons.setdefault((v.lot, v.reason), []).append(v.characteristic)
    return [
        f"Not proven of {lot_name(lot) if several else 'the lot'}: {', '.join(names)} ({reason})."
        for (lot, reason), names in reasons.items()
    ]


def against_text(proof: Proof, lot: str, several: bool) -> str:
    """The prediction beside the readings of a lot, and a plain word on whether they agree."""
    of_lot = [one for one in proof.against if one.lot == lot]
    rows = [_against_row(one, proof.characteristics[one.characteristic].unit) for one in of_lot]
    heads = ("against prediction", "unit", "predicted", "read", "z", "p", "sd predicted", "sd read", "p of sd", "")
    odd = [one.characteristic for one in of_lot if one.words.startswith("disagrees")]
    where = f" of {lot_name(lot)}" if several else ""
    said = f"Readings{where} and prediction do not disagree; that proves neither."
    if odd:
        said = (
            f"Readings{where} and prediction DISAGREE on {', '.join(odd)}: parts, gauge or sheet are not what the "
            "prediction took them for. `firstoff explain` looks for the cause."
        )
    return "\n".join([*([lot_name(lot)] if several else []), table(heads, rows, width=130), *wrap(said, 120)])


def _against_row(one: Against, unit: str) -> tuple[str, ...]:
    sds = [None if x is None else size_from_si(x, unit) for x in (one.predicted_sd, one.sd)]
    return (
        one.characteristic, unit, in_unit(one.predicted_mean, unit, 5), in_unit(one.mean, unit, 5),
        "–" if one.z is None else f"{one.z:+.1f}", "–" if one.p_mean is None else probability(one.p_mean),
        number(sds[0], 2), number(sds[1], 2), "–" if one.p_sd is None else probability(one.p_sd), one.words,
    )  # fmt: skip


def _lot_row(v: LotVerdict, proof: Proof) -> tuple[str, ...]:
    c = proof.characteristics[v.characteristic]
    sd = "–" if v.sd is None else number(size_from_si(v.sd, c.unit), 2)
    return (
        named(c), c.unit, str(v.n), in_unit(v.mean, c.unit, 5), sd, limits_text(c),
        f"{v.conforming}/{v.not_conforming}/{v.not_proven}", v.verdict,
    )  # fmt: skip


def _parts(proof: Proof, word: str, title: str) -> list[str]:
    """The parts with this verdict, one line a characteristic."""
    by_characteristic: dict[str, list[PartVerdict]] = {}
    for v in proof.judgement.parts:
        if v.verdict == word and not (v.low is None and v.high is None):
            by_characteristic.setdefault(v.characteristic, []).append(v)
    lines = []
    for name, verdicts in by_characteristic.items():
        c = proof.characteristics[name]
        unit = c.unit
        shown = ", ".join(
            f"{proof.label(v)}: {in_unit(v.value, unit, 5)}"
            + (f" (P conform {probability(v.p_conform)})" if v.p_conform is not None else "")
            for v in verdicts[:4]
        )
        more = f" and {len(verdicts) - 4} more" if len(verdicts) > 4 else ""
        lines.append(f"{title}: {named(c)} [{unit}] on {counted(len(verdicts), 'part')}: {shown}{more}")
    return lines + ([""] if lines else [])


def verdicts_csv(proof: Proof) -> str:
    """Every part's verdict as CSV, values in the trade's unit."""
    import csv
    import io

    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(CSV_HEADER)
    for v in proof.judgement.parts:
        c = proof.characteristics[v.characteristic]
        u = None if v.u is None else size_from_si(v.u, c.unit)
        values = [None if x is None else float(from_si(x, c.unit)) for x in (v.value, v.low, v.high)]
        cells = [f"{x:.8g}" if x is not None else "" for x in (*values, u, v.p_conform)]
        what = (harmless(v.part), harmless(v.lot), v.characteristic, "yes" if c.safety else "", c.unit)
        writer.writerow((*what, *cells, v.verdict, harmless(v.gauge), v.reason))
    return out.getvalue()


def harmless(text: str) -> str:
    """A name from a readings file that no spreadsheet takes for a formula."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text


def lot_summary(proof: Proof) -> str:
    """One sentence for the end of an account."""
    bad = [v.characteristic for v in proof.judgement.lots if v.verdict == "does not conform"]
    open_ones = [v.characteristic for v in proof.judgement.lots if v.verdict == "not proven"]
    good = len(proof.judgement.lots) - len(bad) - len(open_ones)
    lot = "the lot" if len(proof.lots) < 2 else "the lots"
    text = f"Of the characteristics of {lot}, {good} conform, {len(bad)} do not, {len(open_ones)} are not proven."
    return text + (f" Not conforming: {', '.join(bad)}." if bad else "")


def share_text(v: LotVerdict) -> str:
    """Estimated share outside limits of a lot with its interval."""
    if v.share_out is None or v.share_out_low is None or v.share_out_high is None:
        return "–"
    return f"{share(v.share_out)} ({share(v.share_out_low)} to {share(v.share_out_high)})"
