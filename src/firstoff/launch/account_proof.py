"""The account of a proof: what does not conform, what is not proven, and the lot, in plain text."""

from __future__ import annotations

from firstoff.launch.account import in_unit, limits_text, named, safety_note
from firstoff.launch.prove import Proof
from firstoff.report.tables import number, probability, share, table
from firstoff.sheets.units import from_si, size_from_si
from firstoff.trials.verdicts import LotVerdict, PartVerdict

CSV_HEADER = (
    "part", "lot", "characteristic", "safety", "unit", "value", "low", "high", "u", "p_conform", "verdict", "gauge",
    "reason",
)  # fmt: skip


def prove_text(proof: Proof) -> str:
    """One line a lot and characteristic, then the parts that do not conform or are not proven."""
    parts = {v.part for v in proof.judgement.parts}
    head = f"PROVE  {len(proof.trial.readings)} readings on {len(parts)} parts, rule {proof.rule}"
    rows = [_lot_row(v, proof) for v in proof.judgement.lots]
    heads = ("characteristic", "unit", "n", "mean", "sd", "limits", "parts ok/bad/open", "the lot")
    read_ones = {v.characteristic: proof.characteristics[v.characteristic] for v in proof.judgement.lots}
    lines = [head, "", table(heads, rows, width=120), *safety_note(read_ones.values()), ""]
    lines += _parts(proof, "does not conform", "DO NOT CONFORM")
    lines += _parts(proof, "not proven", "not proven")
    reasons = dict.fromkeys(v.reason for v in proof.judgement.lots if v.verdict == "not proven" and v.reason)
    lines += [f"Lot not proven: {reason}." for reason in reasons]
    if proof.not_read:
        unread = [named(proof.characteristics[name]) for name in proof.not_read]
        lines.append(f"Not read, so not proven: {', '.join(unread)}.")
    lines += [f"Remark: {m.as_text()}" for m in proof.trial.messages]
    lines += ["", "A verdict speaks of the readings taken; it is no certificate."]
    return "\n".join(lines)


def _lot_row(v: LotVerdict, proof: Proof) -> tuple[str, ...]:
    c = proof.characteristics[v.characteristic]
    sd = "–" if v.sd is None else number(size_from_si(v.sd, c.unit), 2)
    name = named(c) + (f" (lot {v.lot})" if v.lot else "")
    return (
        name, c.unit, str(v.n), in_unit(v.mean, c.unit, 5), sd, limits_text(c),
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
            f"{v.part}: {in_unit(v.value, unit, 5)}"
            + (f" (P conform {probability(v.p_conform)})" if v.p_conform is not None else "")
            for v in verdicts[:4]
        )
        more = f" and {len(verdicts) - 4} more" if len(verdicts) > 4 else ""
        lines.append(f"{title}: {named(c)} [{unit}] on {len(verdicts)} parts: {shown}{more}")
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
    text = f"{good} characteristics of the lot conform, {len(bad)} do not, {len(open_ones)} are not proven."
    return text + (f" Not conforming: {', '.join(bad)}." if bad else "")


def share_text(v: LotVerdict) -> str:
    """Estimated share outside limits of a lot with its interval."""
    if v.share_out is None or v.share_out_low is None or v.share_out_high is None:
        return "–"
    return f"{share(v.share_out)} ({share(v.share_out_low)} to {share(v.share_out_high)})"
