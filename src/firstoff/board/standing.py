"""Where a launch stands in the seven verbs, what blocks it, and what is to be done next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Engine

from firstoff.board import jobs
from firstoff.board.jobs import Result
from firstoff.board.launches import Judged, Known, Launch, followed, judged, known
from firstoff.board.texts import text
from firstoff.errors import InputFault, counted
from firstoff.launch.recorded.authority import are_there, records_place
from firstoff.launch.recorded.standing import Decided, Standing, decisions_of, standing
from firstoff.records import open_records
from firstoff.report.tables import probability, share

MOST = 3  # names that are listed
VERBS = ("plan", "predict", "prove", "explain", "correct", "release", "follow")
OWNERS = {"plan": "plan", "predict": "plan", "prove": "readings", "explain": "plan", "correct": "plan",
          "release": "sign", "follow": "readings"}  # fmt: skip


@dataclass(frozen=True)
class Step:
    """One verb: done, open, old (made from earlier files), blocked, or waits for another."""

    verb: str
    state: str
    words: str = ""
    loud: bool = False  # something does not conform


@dataclass(frozen=True)
class Stand:
    """One line of the board."""

    launch: Launch
    name: str
    revision: str
    steps: tuple[Step, ...]
    blocks: str
    next: str  # a verb, or `close`: the open actions; empty when nothing is left
    owner: str


def stand(engine: Engine, launch: Launch) -> Stand:
    """The seven verbs of a launch, from its files, the board's results and the records."""
    of, proof = known(launch), judged(launch)
    said = decided(of, launch)
    steps = (
        _plan(of), _predict(of, launch, jobs.result(engine, launch.key, "predict")), _prove(of, proof),
        *_reasons(of, proof, launch, engine), *_decision(said, proof, launch, engine),
    )  # fmt: skip
    first = next((s for s in steps if s.state in ("open", "old", "blocked")), None)
    name, revision = (of.job.name, of.job.revision) if of.job else (launch.key, "")
    owner = launch.owner or _owner(said) or (text(f"owner.{OWNERS[first.verb]}") if first else "")
    after = "close" if said and said.actions else ""  # what a decision left open
    return Stand(launch, name, revision, steps, _blocks(steps, said, proof), first.verb if first else after, owner)


def _owner(said: Standing | None) -> str:
    """Who has the open action that is due first, when a decision left some open."""
    opened = sorted(said.actions, key=lambda action: action.due) if said else []
    return text("action.owner", owner=opened[0].owner, due=opened[0].due) if opened else ""


def _blocks(steps: Sequence[Step], said: Standing | None, proof: Judged) -> str:
    """Faults first, then what does not conform, then what is late."""
    found = [f"{text(f'verb.{s.verb}')}: {s.words}" for s in steps if s.state == "blocked"]
    lots = proof.proof.judgement.lots if proof.proof else ()
    bad = list(dict.fromkeys(v.characteristic for v in lots if v.verdict == "does not conform"))
    if bad:
        more = text("blocks.more", n=len(bad) - MOST) if len(bad) > MOST else ""
        found.append(text("blocks.one" if len(bad) == 1 else "blocks.many", names=", ".join(bad[:MOST]) + more))
    found += [text("action.late", action=a.action, due=a.due) for a in (said.actions if said else ()) if a.late]
    return "; ".join(found)


def _plan(of: Known) -> Step:
    if of.faults:
        return Step("plan", "blocked", text("plan.faults", n=counted(len(of.faults), "fault")))
    if of.plan is None:
        return Step("plan", "open", text("plan.limits", n=len(of.missing)))
    count = len(of.plan.plans)
    if of.plan.warnings:
        return Step("plan", "done", text("plan.warned", n=count, w=counted(len(of.plan.warnings), "warning")))
    return Step("plan", "done", text("plan.done", n=count))


def _predict(of: Known, launch: Launch, found: Result | None) -> Step:
    if of.plan is None:
        return Step("predict", "waits")
    if found is None:
        return Step("predict", "open")
    if not jobs.is_current(found, launch.inputs):
        return Step("predict", "old", text("predict.old"))
    rate = found.content["prediction"]["any_outside"]
    shown = share(rate["share"]) if rate["rejects"] else share(rate["high"], bound="<")
    return Step("predict", "done", text("predict.done", share=shown))


def _prove(of: Known, proof: Judged) -> Step:
    if of.job is None:
        return Step("prove", "waits")
    if proof.faults:
        return Step("prove", "blocked", text("prove.faults", n=counted(len(proof.faults), "fault")))
    if proof.proof is None:
        return Step("prove", "open", text("prove.none"))
    words = [v.verdict for v in proof.proof.judgement.lots]
    count = {"good": words.count("conforms"), "bad": words.count("does not conform"), "open": words.count("not proven")}
    return Step("prove", "done", text("prove.done", **count), count["bad"] > 0)


def _reasons(of: Known, proof: Judged, launch: Launch, engine: Engine) -> list[Step]:
    """Explain and correct."""
    steps = []
    for verb, say in (("explain", _cause), ("correct", _cure)):
        found = jobs.result(engine, launch.key, verb)
        if of.plan is None or proof.proof is None:
            steps.append(Step(verb, "waits"))
        elif found is None:
            steps.append(Step(verb, "open"))
        elif not jobs.is_current(found, launch.inputs):
            steps.append(Step(verb, "old", text("explain.old")))
        else:
            steps.append(Step(verb, "done", say(found)))
    return steps


def _cause(found: Result) -> str:
    lots = found.content["lots"]
    if not lots:
        return ""
    first = lots[0]
    if not first["causes"] or first["none"] >= first["causes"][0]["probability"]:
        return text("explain.nothing", p=probability(first["none"]))
    return text("explain.done", title=first["causes"][0]["title"], p=first["causes"][0]["p_text"])


def _cure(found: Result) -> str:
    return "; ".join(dict.fromkeys(text(f"correct.{lot['verdict']}") for lot in found.content["lots"]))


def decided(of: Known, launch: Launch) -> Standing | None:
    """What the records say of a launch; None when there are none."""
    if of.job is None or not are_there(None, launch.folder):
        return None
    try:
        with open_records(records_place(None, launch.folder), create=False) as records:
            return standing(records, of.job, launch.readings)
    except (InputFault, OSError):
        return None


def decisions(of: Known, launch: Launch) -> list[Decided]:
    """Every decision on a launch that the records hold, the last first."""
    if of.job is None or not are_there(None, launch.folder):
        return []
    try:
        with open_records(records_place(None, launch.folder), create=False) as records:
            return [d for d in reversed(decisions_of(records)) if d.model == of.job.name]
    except (InputFault, OSError):
        return []


def _follow(launch: Launch) -> Step:
    """Which lots slip, once there is a release."""
    found = followed(launch)
    slips = [s.lot for s in found.slipping if s.lot] if found else []
    if slips:
        return Step("follow", "open", text("follow.slipping", lots=", ".join(slips[:5])), True)
    return Step("follow", "open", text("follow.open"))


def _decision(said: Standing | None, proof: Judged, launch: Launch, engine: Engine) -> list[Step]:
    """Release and follow."""
    if proof.proof is None:
        return [Step("release", "waits"), Step("follow", "waits", text("follow.waits"))]
    if said is not None and said.decided is not None:
        if said.changed:
            words = text("release.decided_old", word=said.decided.word)
            return [Step("release", "old", words), Step("follow", "waits", text("follow.waits"))]
        words = text("release.decided", word=said.decided.word, person=said.decided.person)
        follow = Step("follow", "waits", text("follow.waits"))
        if said.decided.word != "hold":
            follow = _follow(launch)
        return [Step("release", "done", words), follow]
    found = jobs.result(engine, launch.key, "release")
    words = ""
    if found is not None and jobs.is_current(found, launch.inputs):
        words = text("release.recommended", word=found.content["recommended"])
    return [Step("release", "open", words), Step("follow", "waits", text("follow.waits"))]
