"""What it comes to: the recommendation with its reasons, actions, concessions, and the lines to be signed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from firstoff.launch.account import ALWAYS, in_unit, limits_text
from firstoff.launch.account_release import (
    UNSIGNED,
    against,
    counted,
    missing_text,
    policy_text,
    row,
)
from firstoff.launch.release import LaunchRelease, likely
from firstoff.report.pages import Paper, Section, Table, Tone, marked
from firstoff.report.tables import probability, share, unit_sign
from firstoff.trials.release import Finding

SAFETY_NOTE = "SAFETY: only readings may release this characteristic, and no concession lets it off."
SHOWN = 6  # reasons on the first page
SIGN = ("released, held or let go by concession", "for quality", "for the customer (concession only)")


def headed(paper: Paper, release: LaunchRelease, tones: Mapping[str, Tone]) -> Paper:
    """The paper with the word on its first page."""
    said = release.found
    found = [f for f in said.findings if f.word == said.word != "release"]
    found.sort(key=lambda f: (not f.safety, f.concession is None, _rank(f)))
    reasons = [f"{r.what[0].upper()}{r.what[1:]}." for r in said.reasons]
    reasons += [
        f"Likely cause: {c.title} (P {probability(c.probability)}), to be confirmed."
        for e in release.explanations
        for c in [likely(e)]
        if c is not None and c.probability >= said.policy.cause
    ]
    reasons += [f"{row(release, f)[0]}: {against(f)[0].what}." for f in found]
    if said.word == "release":
        reasons = ["Every characteristic with limits says release, and nothing about the trial speaks against it."]
    more = len(reasons) - SHOWN
    shown = reasons[:SHOWN] + ([f"and {counted(more, 'reason')} more: see section 1."] if more > 0 else [])
    return replace(paper, word=said.word.upper(), tone=tones[said.word], says=tuple(shown))


def _rank(finding: Finding) -> int:
    """Failing parts are said before those that are not proven, and these before what was not read."""
    order = ("fails", "prediction", "not proven")
    first = against(finding)[0].kind
    return order.index(first) if first in order else len(order)


def sections(release: LaunchRelease) -> list[Section]:
    """The recommendation, then what is to be done and who signs."""
    said = release.found
    trial = release.proof.trial
    parts = {r.part for r in trial.readings}
    paragraphs = [
        f"Recommended: {said.word}, from {counted(len(trial.readings), 'reading')} on {counted(len(parts), 'part')}, "
        f"judged by rule {release.proof.rule}. {UNSIGNED}",
        *(f"{r.what[0].upper()}{r.what[1:]}." for r in said.reasons),
        *(f"{note[0].upper()}{note[1:]}." for note in release.notes),
        policy_text(said.policy),
    ]
    tables = [_by_characteristic(release), *_missing(release), *_concessions(release)]
    first = Section("Recommendation", (*said.cautions, ALWAYS), tuple(paragraphs), tables=tuple(tables))
    actions = Table(
        ("", "what", "closed by", "done (initials, date)"),
        tuple((str(i), a.what, a.closes, "") for i, a in enumerate(said.actions, 1)),
    )
    to_do = ("Nothing is open.",) if not said.actions else ()
    second = Section(
        "Open actions and decision", (), to_do, tables=(actions,) if said.actions else (), sign=SIGN,
    )  # fmt: skip
    return [first, second]


def _by_characteristic(release: LaunchRelease) -> Table:
    rows = []
    findings = release.found.findings
    for f in findings:
        name, unit, limits, word, basis = row(release, f, mark=False)
        why = "; ".join(r.what for r in f.reasons)
        rows.append((name, f"{limits} {unit_sign(unit)}".strip(), word, basis, why))
    note = SAFETY_NOTE if any(f.safety for f in findings) else ""
    bold = tuple(i for i, f in enumerate(findings) if f.word != "release")
    heads = ("characteristic", "limits", "recommended", "on", "why")
    return marked(Table(heads, tuple(rows), "By characteristic", note, bold), [f.safety for f in findings])


def _missing(release: LaunchRelease) -> list[Table]:
    rows = []
    for f in release.found.findings:
        if f.missing is None:
            continue
        name, unit, *_ = row(release, f)
        v = next(x for x in release.proof.judgement.lots if (x.characteristic, x.lot) == (f.characteristic, f.lot))
        rows.append((name, unit_sign(unit), str(v.n), *missing_text(release, f)))
    if not rows:
        return []
    heads = (
        "characteristic",
        "unit",
        "parts read",
        "parts that would do",
        "or u common to the readings",
        "or sd of the lot",
    )
    note = "Each way by itself, all else as read. –: this way does not lead there."
    return [Table(heads, tuple(rows), "What would prove what is not proven", note)]


def _concessions(release: LaunchRelease) -> list[Table]:
    rows = []
    for f in release.found.findings:
        c, asked = release.asked[f.characteristic], f.concession
        if asked is None:
            continue
        limits = limits_text(replace(c, low=asked.low, high=asked.high))
        out = "–" if asked.share_out is None else share(asked.share_out)
        most = "–" if asked.share_out_high is None else share(asked.share_out_high)
        rows.append(
            (row(release, f)[0], unit_sign(c.unit), limits_text(c), limits, f"{100.0 * asked.beyond:.2g} %",
             f"{asked.parts_outside} of {asked.parts}", in_unit(asked.worst, c.unit, 5), out, most)
        )  # fmt: skip
    if not rows:
        return []
    heads = ("characteristic", "unit", "drawing", "asked for", "beyond, of the tolerance", "parts outside",
              "farthest reading", "share outside", "at most")  # fmt: skip
    note = "The lot is proven to keep the limits asked for. No concession without the customer's written approval."
    return [Table(heads, tuple(rows), "For the customer", note)]
