"""What it comes to: the recommendation with its reasons, actions, concessions, and the lines to be signed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from firstoff.launch.account import ALWAYS, in_unit, limits_text
from firstoff.launch.account_release import (
    SAFETY_NOTE,
    UNSIGNED,
    against,
    counted,
    heads,
    missing_text,
    policy_text,
    row,
)
from firstoff.launch.release import LaunchRelease
from firstoff.report.pages import Paper, Section, Table, Tone
from firstoff.report.tables import share, unit_sign

SHOWN = 6  # reasons on the first page
SIGN = ("released, held or let go by concession", "for quality", "for the customer (concession only)")


def headed(paper: Paper, release: LaunchRelease, tones: Mapping[str, Tone]) -> Paper:
    """The paper with the word on its first page."""
    said = release.found
    reasons = [f"{r.what}." for r in said.reasons]
    for finding in said.findings:
        if finding.word == said.word != "release":
            reasons += [f"{row(release, finding)[0]}: {against(finding)[0].what}." if against(finding) else ""]
    reasons = [r for r in reasons if r] or [
        "Every characteristic with limits is proven, and nothing speaks against it."
    ]
    more = len(reasons) - SHOWN
    shown = reasons[:SHOWN] + ([f"and {counted(more, 'reason')} more: see section 1."] if more > 0 else [])
    return replace(paper, word=said.word.upper(), tone=tones[said.word], says=tuple(shown))


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
        wide=(1, 2),
    )
    to_do = ("Nothing is open.",) if not said.actions else ()
    second = Section(
        "Open actions and decision", (), to_do, tables=(actions,) if said.actions else (), sign=SIGN,
    )  # fmt: skip
    return [first, second]


def _by_characteristic(release: LaunchRelease) -> Table:
    rows = []
    for f in release.found.findings:
        name, safety, unit, limits, word, basis = row(release, f)
        why = "; ".join(r.what for r in f.reasons)
        rows.append((name, safety, f"{limits} {unit_sign(unit)}".strip(), word, basis, why))
    titles = heads(release)
    note = SAFETY_NOTE if any(f.safety for f in release.found.findings) else ""
    bold = tuple(i for i, f in enumerate(release.found.findings) if f.word != "release")
    return Table(
        (*titles[:2], "limits", "recommended", "on", "why"), tuple(rows), "By characteristic", note, (5,), bold
    )


def _missing(release: LaunchRelease) -> list[Table]:
    rows = []
    for f in release.found.findings:
        if f.missing is None:
            continue
        name, _, unit, *_ = row(release, f)
        v = next(x for x in release.proof.judgement.lots if (x.characteristic, x.lot) == (f.characteristic, f.lot))
        rows.append((name, unit_sign(unit), str(v.n), *missing_text(release, f)))
    if not rows:
        return []
    heads_ = (
        "characteristic",
        "unit",
        "parts read",
        "parts that would do",
        "or u common to the readings",
        "or sd of the lot",
    )
    note = "Each way by itself, all else as read. –: this way does not lead there."
    return [Table(heads_, tuple(rows), "What would prove what is not proven", note)]


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
    heads_ = ("characteristic", "unit", "drawing", "asked for", "beyond, of the tolerance", "parts outside",
              "farthest reading", "share outside", "at most")  # fmt: skip
    note = "The lot is proven to keep the limits asked for. No concession without the customer's written approval."
    return [Table(heads_, tuple(rows), "For the customer", note)]
