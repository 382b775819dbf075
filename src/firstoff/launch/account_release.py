"""The account of a recommendation: the word, why, what is to be done, and what closes it."""

from __future__ import annotations

from dataclasses import replace

from firstoff.launch.account import in_unit, limits_text, named, safety_note
from firstoff.launch.release import LaunchRelease
from firstoff.report.tables import number, share, table, wrap
from firstoff.sheets.units import size_from_si
from firstoff.trials.release import Finding, Policy, Reason

WIDTH = 110
UNSIGNED = "Nothing is signed: this is a recommendation, a named person decides."


def release_text(found: LaunchRelease) -> str:
    """The word first, then every characteristic that does not say release, actions, cautions."""
    job, said = found.job, found.found
    parts = {r.part for r in found.proof.trial.readings}
    head = f"RELEASE  {job.name}" + (f", revision {job.revision}" if job.revision else "")
    count = len(found.proof.trial.readings)
    lines = [
        head,
        "",
        f"Recommended: {said.word.upper()}  ({count} readings on {counted(len(parts), 'part')})",
        UNSIGNED,
    ]
    lines += [f"  {r.what}." for r in said.reasons]
    lines += ["", *_overview(found), *_why(found)]
    for finding in said.findings:
        lines += [line for text in concession_text(found, finding) for line in wrap(text, WIDTH)]
    if said.actions:
        lines += ["", "Open actions:"]
        for i, action in enumerate(said.actions, 1):
            lines += _hanging(f"{i:2d}. ", f"{action.what}.")
            lines += _hanging("    ", f"Closed by: {action.closes}.")
    cautions = [*said.cautions, *(f"{note[0].upper()}{note[1:]}." for note in found.notes)]
    lines += ["", *(line for text in cautions for line in wrap(text, WIDTH))]
    lines += wrap(policy_text(said.policy), WIDTH)
    return "\n".join(lines)


def counted(n: int, what: str) -> str:
    return f"{n} {what}{'' if n == 1 else 's'}"


HEADS = ("characteristic", "unit", "limits", "recommended", "on")


def row(found: LaunchRelease, finding: Finding, mark: bool = True) -> tuple[str, ...]:
    """One characteristic of one lot: name (with the mark of safety), unit, limits, word, and what it rests on."""
    c = found.asked[finding.characteristic]
    several = len({f.lot for f in found.found.findings}) > 1
    name = (named(c) if mark else c.name) + (f" (lot {finding.lot})" if several and finding.lot else "")
    return (name, c.unit, limits_text(c), finding.word, finding.basis)


def _overview(found: LaunchRelease) -> list[str]:
    rows = [row(found, f) for f in found.found.findings]
    if not rows:
        return ["No reading speaks of a characteristic with limits."]
    lines = [table(HEADS, rows, width=WIDTH)]
    return lines + safety_note(found.asked.values())


def against(finding: Finding) -> tuple[Reason, ...]:
    """What speaks against a release of this characteristic; all it has to say when nothing does."""
    return tuple(r for r in finding.reasons if r.word != "release")


def _why(found: LaunchRelease) -> list[str]:
    lines: list[str] = []
    for word, title in (("hold", "Held:"), ("concession", "Concession candidates:")):
        of_word = [f for f in found.found.findings if f.word == word]
        if of_word:
            lines += ["", title]
        for f in of_word:
            for reason in against(f):
                lines += _hanging(f"  {row(found, f)[0]}: ", f"{reason.what}.")
    softer = [(f, r) for f in found.found.findings if f.word == "release" for r in f.reasons if r.kind != "conforms"]
    if softer:
        lines += ["", "Released, and yet:"]
        for f, r in softer:
            lines += _hanging(f"  {row(found, f)[0]}: ", f"{r.what}.")
    return lines


def _hanging(first: str, text: str) -> list[str]:
    room = WIDTH - 4
    lines = wrap(f"{first.strip()} {text}", room)
    lead = " " * (len(first) - len(first.lstrip()))
    return [lead + lines[0], *(f"      {line}" for line in lines[1:])]


def concession_text(found: LaunchRelease, finding: Finding) -> list[str]:
    """What a customer needs to decide on a concession, in the characteristic's unit."""
    asked, c = finding.concession, found.asked[finding.characteristic]
    if asked is None:
        return []
    limits = limits_text(replace(c, low=asked.low, high=asked.high))
    text = f"{finding.characteristic}: limits asked for {limits} {c.unit} instead of {limits_text(c)} {c.unit}"
    text += f"; {asked.parts_outside} of {counted(asked.parts, 'part')} read outside, "
    text += f"the farthest {in_unit(asked.worst, c.unit, 5)} {c.unit}"
    if asked.share_out is not None and asked.share_out_high is not None:
        text += f"; of the lot {share(asked.share_out)} lie outside the drawing, at most {share(asked.share_out_high)}"
    return ["", "For the customer:", f"{text}."]


def policy_text(policy: Policy) -> str:
    """Where the lines were drawn."""
    return (
        "Lines drawn (assumed: common practice, no source): a concession asks for no more than "
        f"{100.0 * policy.concession:g} % of the tolerance; held when rig or gauge are at fault with a probability of "
        f"{policy.rig:g} or more, when something undeclared is with {policy.undeclared:g} or more, or when a worse fit "
        f"has a probability under {policy.misfit:g}; a prediction releases nothing when {100.0 * policy.echo:g} % or "
        "more of its scatter is assumed."
    )


def missing_text(found: LaunchRelease, finding: Finding) -> tuple[str, str, str]:
    """Parts in all, u common to the readings and sd that would each prove it, in the characteristic's unit."""
    missing, unit = finding.missing, found.asked[finding.characteristic].unit
    if missing is None:
        return "", "", ""
    sizes = (number(None if x is None else size_from_si(x, unit), 2) for x in (missing.common_u, missing.sd))
    parts = "–" if missing.parts is None else str(missing.parts)
    u, sd = sizes
    return parts, u, sd
