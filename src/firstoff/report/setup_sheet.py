"""The setup sheet: what one station is set to, on one plain markdown page, its cautions first."""

from __future__ import annotations

import re
from collections.abc import Sequence

from firstoff.report.pages import Check
from firstoff.report.tables import op_label, plain

NOT_A_CERTIFICATE = (
    "A calculation is not a certificate: local codes, the supplier's safety data and a licensed or authorised person "
    "decide."
)
_MARKS = re.compile(r"([\\`*\[\]<>|&~])|(?<![0-9A-Za-z])(_)|(_)(?![0-9A-Za-z])")
_OPENERS = re.compile(r"^(?:([#+\-=]+)|(\d+)[.)])(?=\s|$)")


def setup_markdown(
    op: int | str,
    title: str,
    lines: Sequence[tuple[str, str]],
    assumptions: Sequence[str],
    cautions: Sequence[str],
    model: str,
    plant: str,
    version: str,
    checks: Sequence[Check] = (),
) -> str:
    """One page for the station `op`: cautions, settings (what, value with unit), what is assumed, where it is from.

    The same inputs give the same text: no clock, no path. Text from sheets is escaped, so a `|` or `<` in a material's
    name cannot break the page. The third column of the settings is left blank for what the setter reads back.
    """
    page = [f"# {escape(op_label(op))}: {escape(title)}", ""]
    page += ["## Cautions", ""]
    page += [f"- **{_item(c)}**" for c in cautions if plain(c)] or ["No caution is declared for this station."]
    page += ["", escape("The site's own safety rules hold in every case. " + NOT_A_CERTIFICATE), ""]
    page += ["## Settings", ""]
    if lines:
        page += ["| What | Set to | As set |", "| --- | ---: | --- |"]
        page += [f"| {escape(what)} | {escape(value)} | |" for what, value in lines]
    else:
        page += ["Nothing is set at this station."]
    page += _checked(checks)
    page += ["", "## Assumed", ""]
    page += [f"- {_item(a)}" for a in assumptions if plain(a)] or ["No assumption is listed for this station."]
    page += ["", "## From", "", "| | |", "| --- | --- |"]
    page += [f"| {what} | {escape(of)} |" for what, of in (("model", model), ("plant", plant), ("firstoff", version))]
    page += ["", "Set by: ____________  Checked by: ____________  Date: ____________", ""]
    return "\n".join(page)


def _checked(checks: Sequence[Check]) -> list[str]:
    """What is measured on the first part of this station; a safety characteristic is marked."""
    if not checks:
        return []
    page = ["", "## Measure on the first part", "", "| What | Limits | Gauge | Reading |", "| --- | ---: | --- | --- |"]
    for c in checks:
        what = f"**SAFETY** {escape(c.what)}" if c.safety else escape(c.what)
        page.append(f"| {what} | {escape(f'{c.limits} {c.unit}')} | {escape(c.gauge)} | |")
    if any(c.safety for c in checks):
        page += ["", "SAFETY: only readings may release this characteristic, never a calculation."]
    return page


def escape(text: object) -> str:
    """One line of text in which no character is read as markdown; `a_b` inside a word is left as it is."""
    return _MARKS.sub(lambda m: "\\" + m.group(0), plain(text))


def _item(text: object) -> str:
    """Escaped for the start of a list item, where `-`, `#` or `1.` would open another block."""
    escaped = escape(text)
    if (m := _OPENERS.match(escaped)) is None:
        return escaped
    at = m.end(2) if m.group(2) else 0
    return escaped[:at] + "\\" + escaped[at:]
