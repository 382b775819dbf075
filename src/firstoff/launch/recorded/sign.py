"""Release, signed: a named person decides, bound by hashes to what the decision was made on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from pathlib import Path

from firstoff import __version__
from firstoff.errors import InputFault, Message
from firstoff.launch.recorded.authority import Author
from firstoff.launch.recorded.recommended import Recommended, of_run, raise_if_changed
from firstoff.launch.recorded.record import add_result, add_sources
from firstoff.launch.release import LaunchRelease
from firstoff.records import Batch, Head, Records, append
from firstoff.records.append import now

WORDS = ("release", "concession", "hold")  # from the mildest to the strictest
MEANING: Mapping[str, str] = {
    "release": "The lots that were read may be used, and the process may run on as planned.",
    "concession": "The lots that were read may be used although they leave the drawing, within the limits and until "
    "the date stated, with the customer's approval.",
    "hold": "Nothing of the lots that were read is used, and the process does not run on, until the open actions are "
    "closed and the decision is made anew.",
}


@dataclass(frozen=True)
class Decision:
    """What a person says beside the word."""

    word: str
    reason: str = ""  # needed when the word is milder than what is recommended
    until: str = ""  # end of a concession, `2027-03-31`
    customer: str = ""  # who approved a concession, by which letter
    owner: str = ""  # of the open actions; the person who decides when empty
    due: str = ""  # by when they are closed


def sign(found: LaunchRelease, records: Records, author: Author, decision: Decision, good: Path | None = None) -> Head:
    """Record a decision on what was just computed and sign it; see :func:`sign_recommended`."""
    return sign_recommended(of_run(found), records, author, decision, good)


def sign_recommended(
    found: Recommended, records: Records, author: Author, decision: Decision, good: Path | None = None
) -> Head:
    """Record a decision and sign it; gives the head of the records.

    The signature is that of the entry: it covers the decision with the hashes of sheet, plant sheet, readings and
    recommendation, the program's version, the person, the time and the meaning. Raises InputFault when the decision
    cannot be: a safety characteristic on hold is let off by nobody, what is milder than recommended needs a reason,
    and sheets and readings are still those that the recommendation was computed from.
    """
    raise_if_refused(found, decision)
    signer = author.signer()
    job, said, readings = found.job, found.said, found.readings
    batch = Batch("decision", f"{job.name} {job.revision}: {decision.word}".replace(" :", ":"))
    with records.reading() as connection:
        sources = add_sources(batch, connection, job, readings, good)
    recommendation = add_result(batch, job, "recommendation", found.recorded, said.word, sources)
    made = batch.add(
        "decisions",
        model=job.name,
        revision=job.revision,
        word=decision.word,
        meaning=MEANING[decision.word],
        person=signer.name,
        time=now(),
        recommended=said.word,
        reason=decision.reason,
        sheet=sources.sheet,
        plant_sheet=sources.plant_sheet,
        readings=sources.readings,
        recommendation=sha256(recommendation.encode()).hexdigest(),
        version=__version__,
        authenticated=f"{author.how}{'key with passphrase' if signer.protected else 'key without passphrase'}",
        sheet_file=_seen_from(records, job.file),
        readings_file=_seen_from(records, readings),
    )
    if decision.word == "concession":
        _add_concessions(batch, found, decision, made)
    for action in said.actions:
        words = "\n".join((job.name, job.revision, sources.readings, action.what))
        batch.add("actions", action=f"A-{sha256(words.encode()).hexdigest()[:8]}", state="open", what=action.what,
                  closes=action.closes, owner=decision.owner or signer.name, due=decision.due, model=job.name,
                  revision=job.revision)  # fmt: skip
    return append(records, batch, signer)


def raise_if_refused(found: Recommended, decision: Decision) -> None:
    """InputFault when this decision cannot be made on this recommendation."""
    _raise_if(_faults(found, decision))
    raise_if_changed(found)


def _seen_from(records: Records, file: Path) -> str:
    """A file's place as seen from the records, so that both may be moved together; whole when they lie on a server."""
    import os

    if records.file is None:
        return file.resolve().as_posix()
    try:
        return Path(os.path.relpath(file.resolve(), records.file.resolve().parent)).as_posix()
    except ValueError:  # another drive
        return file.resolve().as_posix()


def _add_concessions(batch: Batch, found: Recommended, decision: Decision, made: int) -> None:
    for finding in found.said.findings:
        if finding.concession is None:
            continue
        batch.add("concessions", decision=made, characteristic=finding.characteristic, lot=finding.lot,
                  low=finding.concession.low, high=finding.concession.high,
                  unit=found.units[finding.characteristic], until=decision.until,
                  customer=decision.customer)  # fmt: skip


def _faults(found: Recommended, decision: Decision) -> list[Message]:
    said, wrong = found.said, []
    word = decision.word
    if word not in WORDS:
        return [Message("is no decision", key="--sign", found=word, allowed=", ".join(WORDS))]
    if word != "hold":
        wrong += [
            Message(f"SAFETY: {f.characteristic} is on hold; only readings may release it, and no concession lets it "
                    "off", key="--sign", found=word, allowed="hold")
            for f in said.findings if f.safety and (f.word == "hold" or f.basis != "readings")
        ]  # fmt: skip
    if WORDS.index(word) < WORDS.index(said.word) and not decision.reason.strip():
        what = f"is milder than what is recommended ({said.word}) and needs its reason"
        wrong.append(Message(what, key="--sign", found=word, allowed="--reason TEXT"))
    if word == "concession":
        if not any(f.concession for f in said.findings):
            wrong.append(Message("no characteristic is a candidate for a concession", key="--sign", found=word))
        if not decision.customer.strip():
            wrong.append(
                Message("a concession needs the customer's approval", key="--customer", allowed="who, by what")
            )
        wrong += _date_faults("--until", decision.until, "a concession needs its end")
    if said.actions:
        wrong += _date_faults("--due", decision.due, "open actions need the date by which they are closed")
    return wrong


def _date_faults(key: str, words: str, needed: str) -> list[Message]:
    if not words:
        return [Message(needed, key=key, allowed="a date, e.g. 2027-03-31")]
    try:
        day = date.fromisoformat(words)
    except ValueError:
        return [Message("is no date", key=key, found=words, allowed="a date, e.g. 2027-03-31")]
    if day.isoformat() < now()[:10]:
        return [Message("lies in the past", key=key, found=words)]
    return []


def _raise_if(wrong: list[Message]) -> None:
    if wrong:
        raise InputFault(wrong)


def close_action(records: Records, author: Author, action: str, note: str) -> Head:
    """Record that an open action is closed, and how. InputFault when there is none of this number."""
    from firstoff.launch.recorded.standing import actions_of

    signer = author.signer()
    known = {a.action: a for a in actions_of(records)}
    if action not in known or known[action].state != "open":
        opened = [a.action for a in known.values() if a.state == "open"]
        what = "is closed already" if action in known else "is no action of the records"
        raise InputFault([Message(what, key="ACTION", found=action, allowed=", ".join(opened) or "none is open")])
    it = known[action]
    batch = Batch("action", f"{action} closed")
    batch.add("actions", action=action, state="closed", what=it.what, closes=note, owner=signer.name, due=now()[:10],
              model=it.model, revision=it.revision)  # fmt: skip
    return append(records, batch, signer)
