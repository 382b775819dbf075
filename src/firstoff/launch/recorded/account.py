"""What is said of the records: decisions and how they stand, a check, a trace."""

from __future__ import annotations

from collections.abc import Sequence

from firstoff.errors import counted
from firstoff.launch.recorded.standing import Decided, Standing
from firstoff.records import Trace, Verification
from firstoff.report.tables import table, wrap

WIDTH = 110
SHOWN = 40  # rows of a list on screen


def decided_text(found: Standing) -> list[str]:
    """The decision and how it stands, the open actions, the head."""
    d = found.decided
    if d is None:
        lines = ["Decided: nothing yet (`firstoff release SHEET READINGS --sign WORD --by NAME`)."]
    else:
        line = f"Decided: {d.word.upper()} by {d.person}, {d.time}, entry {d.entry} ({d.authenticated}). {d.meaning}"
        lines = wrap(line, WIDTH)
        if d.word != d.recommended:
            lines += wrap(f"Recommended was {d.recommended}. Reason given: {d.reason or 'none'}.", WIDTH)
        how = f"on other content: {'; '.join(found.changed)}" if found.changed else "on what stands here, unchanged"
        lines.append(f"Decided {how}.")
    for c in found.concessions:
        how = "ended on" if c.ended else "until"
        lines.append(f"Concession on {c.characteristic} {how} {c.until}, approved: {c.customer}.")
    for a in found.actions:
        late = " LATE" if a.late else ""
        lines += wrap(f"Open: {a.action}, {a.owner}, by {a.due}{late}: {a.what}.", WIDTH)
    return [*lines, f"Records: {found.place}, head {found.head}"]


def decisions_text(found: Sequence[Decided]) -> str:
    """Each decision with its person, time and the digest of the recommendation that it was made on."""
    lines = []
    for d in found:
        what = f"{d.model} {d.revision}".rstrip()
        lines.append(f"Entry {d.entry}  {d.word.upper()}  {what}, by {d.person}, {d.time} ({d.authenticated})")
        said = f"; reason: {d.reason}" if d.reason else ""
        lines += [f"  {line}" for line in wrap(f"recommended: {d.recommended}{said}", WIDTH - 2)]
        lines.append(f"  recommendation {d.recommendation}")
    return "\n".join(lines) or "Nothing is decided in these records yet."


def verify_text(found: Verification, place: str, remarks: list[str]) -> str:
    """Sound or not first, then everything that is wrong, then what is to be looked at."""
    what = f"{counted(found.entries, 'entry', 'entries')}, {counted(found.rows, 'row')}"
    lines = [f"RECORDS  {place}", "", f"{'Sound' if found.sound else 'NOT AS RECORDED'}: {what}."]
    lines += [f"  {f.as_text()}" for f in found.findings[: 5 * SHOWN]]
    if len(found.findings) > 5 * SHOWN:
        lines.append(f"  and {len(found.findings) - 5 * SHOWN} more (--json names them all)")
    lines += [line for r in [*found.remarks, *remarks] for line in wrap(f"Remark: {r}.", WIDTH)]
    lines += ["", f"Head: {found.head}"]
    lines += wrap(
        "Note the head elsewhere (it stands in each dossier): `firstoff records verify --head` shows by it whether the "
        "end was cut off or everything was written anew.", WIDTH,
    )  # fmt: skip
    return "\n".join(lines)


def trace_text(up: Trace | None, down: Trace | None) -> str:
    """Both ways from an item: the counts by kind, then the steps."""
    lines: list[str] = []
    for found, title in ((up, "Came from"), (down, "Came of it")):
        if found is None:
            continue
        kinds = ", ".join(f"{n} x {kind}" for kind, n in found.kinds.items()) or "nothing recorded"
        lines += ([""] if lines else []) + [f"{title}: {kinds}"]
        rows = [(e.parent, e.how, e.child, e.time, str(e.entry)) for e in found.edges[:SHOWN]]
        if rows:
            lines.append(table(("from", "how", "to", "time", "entry"), rows, width=WIDTH))
        if len(found.edges) > SHOWN:
            lines.append(f"and {len(found.edges) - SHOWN} more steps (--json has them all)")
    return "\n".join(lines)
