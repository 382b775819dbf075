"""The rules behind a recommendation: one characteristic of one lot, the trial as a whole, and what is to be done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from firstoff.chain.station import Characteristic
from firstoff.methods.conformity import Limits
from firstoff.methods.distribution_fit import STATED_WHY
from firstoff.sheets.units import format_number, format_value, from_si, size_from_si
from firstoff.trials.gauges import find
from firstoff.trials.missing import MOST_PARTS, Missing, of_lot, of_part, parts_of_a_centred_lot
from firstoff.trials.readings import Trial
from firstoff.trials.release import Action, Basis, Case, Concession, Finding, Reason, worst
from firstoff.trials.verdicts import LotVerdict, PartVerdict, judge

SHOWN = 4  # parts named in a reason


def finding(case: Case, name: str, lot: str) -> Finding:
    """What is recommended for one asked characteristic of one lot."""
    asked = case.asked[name]
    verdict = case.lot_verdict(name, lot)
    expected = _by_prediction(case, name)
    if verdict is None:
        reasons, basis = _not_read(case, asked, lot)
        word = worst([r.word for r in (*reasons, *expected)])
        return Finding(name, lot, asked.safety, word, basis, (*reasons, *expected))
    missing: Missing | None = None
    concession: Concession | None = None
    if verdict.verdict == "does not conform":
        concession = None if asked.safety else _concession(case, asked, verdict)
        first = _fails(asked, verdict, case.parts_of(name, lot), concession)
    elif verdict.verdict == "not proven":
        missing = of_lot(verdict, case.rule)
        first = Reason("not proven", "hold", f"not proven: {verdict.reason}{_ways(asked, verdict, missing)}")
    else:
        first = Reason("conforms", "release", f"{verdict.n} parts read, {verdict.reason}")
    reasons = (first, *_of_parts(case, asked, lot), *_assumed_gauge(case, asked, lot), *expected)
    word = worst([r.word for r in reasons])
    new_lot = parts_of_a_centred_lot(verdict) if word != "release" else None
    return Finding(name, lot, asked.safety, word, "readings", reasons, missing, concession, new_lot)


def _by_prediction(case: Case, name: str) -> tuple[Reason, ...]:
    """A prediction may hold: when even the low end of its interval is more than the sheet allows outside."""
    found = case.predicted.get(name)
    if found is None or found.low <= 1.0 - case.coverage:
        return ()
    what = f"trial builds expect at least {_percent(found.low)} of the parts of many lots outside its limits"
    return (Reason("prediction", "hold", what),)


def _not_read(case: Case, asked: Characteristic, lot: str) -> tuple[tuple[Reason, ...], Basis]:
    where = f" in lot {lot}" if lot and len(case.lots()) > 1 else ""
    found = case.predicted.get(asked.name)
    if asked.safety:
        what = f"not read{where}; only readings may release a safety characteristic"
        return (Reason("not read", "hold", what),), "nothing"
    if found is None:
        said = "and left out of this prediction" if asked.name in case.left_out else "and no station computes it"
        return (Reason("not read", "hold", f"not read{where}, {said}"),), "nothing"
    if found.assumed >= case.policy.echo:
        what = (
            f"not read{where}; a prediction is no evidence, since {_percent(found.assumed)} of its scatter is assumed"
        )
        return (Reason("not read", "hold", what),), "nothing"
    if found.high > 1.0 - case.coverage:
        what = f"not read{where}; trial builds leave open up to {_percent(found.high)} outside its limits"
        return (Reason("not read", "hold", what),), "prediction"
    what = f"not read{where}; trial builds expect less than {_percent(found.high)} outside its limits"
    return (Reason("by prediction", "release", what),), "prediction"


def _fails(
    asked: Characteristic, verdict: LotVerdict, parts: Sequence[PartVerdict], concession: Concession | None
) -> Reason:
    bad = [v for v in parts if v.verdict == "does not conform"]
    shown = ", ".join(f"{v.part} {_in(v.value, asked)}" for v in bad[:SHOWN])
    more = f" and {len(bad) - SHOWN} more" if len(bad) > SHOWN else ""
    what = verdict.reason + (f" ({shown}{more}; limits {_limits(asked)})" if bad else "")
    if concession is None:
        kept = "; a safety characteristic is never let off by concession" if asked.safety else ""
        return Reason("fails", "hold", what + kept)
    asks = _limits(replace(asked, low=concession.low, high=concession.high))
    what += f"; the lot is proven to keep {asks}, {_percent(concession.beyond)} of the tolerance beyond"
    return Reason("concession", "concession", what)


def _concession(case: Case, asked: Characteristic, verdict: LotVerdict) -> Concession | None:
    """The limits that a customer would have to allow, when the lot is proven to keep limits that much wider."""
    low, high = asked.low, asked.high
    tolerance = high - low if low is not None and high is not None else abs(low if low is not None else high or 0.0)
    more = case.policy.concession * tolerance
    if more <= 0.0:
        return None
    wide = Limits(None if low is None else low - more, None if high is None else high + more)
    readings = tuple(r for r in case.trial.readings if (r.characteristic, r.lot) == (asked.name, verdict.lot))
    known = {asked.name: verdict.model} if verdict.model_why == STATED_WHY else {}
    again = judge(
        Trial(readings), {asked.name: wide}, case.gauges, case.rule, case.coverage, case.confidence, None, known
    )
    lot = again.lots[0]
    if lot.factor is None:
        return None  # proven by counting parts inside limits set beforehand: no others follow from it
    if lot.verdict != "conforms" or any(v.verdict != "conforms" for v in again.parts):
        return None
    guard = lot.widened or 0.0
    lows = [v.value - (v.guard or 0.0) for v in again.parts]
    highs = [v.value + (v.guard or 0.0) for v in again.parts]
    lows += [lot.interval_low - guard] if lot.interval_low is not None else []
    highs += [lot.interval_high + guard] if lot.interval_high is not None else []
    # never more than was proven: a coarse gauge's own zones are narrower than its guard band
    asks_low = None if low is None or wide.low is None else max(min(low, *lows), wide.low)
    asks_high = None if high is None or wide.high is None else min(max(high, *highs), wide.high)
    over_low = 0.0 if asks_low is None or low is None else low - asks_low
    over_high = 0.0 if asks_high is None or high is None else asks_high - high

    def outside(value: float) -> float:
        return max(low - value if low is not None else 0.0, value - high if high is not None else 0.0)

    values = [v.value for v in again.parts]
    return Concession(
        asks_low, asks_high, max(over_low, over_high) / tolerance, max(values, key=outside),
        sum(outside(x) > 0 for x in values), len(values), verdict.share_out, verdict.share_out_high,
    )  # fmt: skip


def _of_parts(case: Case, asked: Characteristic, lot: str) -> list[Reason]:
    """Parts without a reading, and parts that are not proven one by one: they hold a safety characteristic."""
    reasons: list[Reason] = []
    parts = case.parts_of(asked.name, lot)
    every = dict.fromkeys(r.part for r in case.trial.readings if r.lot == lot)
    unread = [part for part in every if part not in {v.part for v in parts}]
    if unread:
        what = f"not read on {_named(unread)}, which {'was' if len(unread) == 1 else 'were'} tested"
        reasons.append(Reason("part not read", "hold" if asked.safety else "release", what))
    loose = [v for v in parts if v.verdict == "not proven" and v.u is not None]
    if loose:
        ways = _ways_of_part(case, asked, loose[0])
        what = f"{_named([v.part for v in loose])} not proven one by one{ways}"
        reasons.append(Reason("part not proven", "hold" if asked.safety else "release", what))
    return reasons


def _named(parts: Sequence[str]) -> str:
    text = ", ".join(parts[:SHOWN])
    return text + (f" and {len(parts) - SHOWN} more" if len(parts) > SHOWN else "")


def _ways_of_part(case: Case, asked: Characteristic, v: PartVerdict) -> str:
    gauge, why = find(case.gauges, asked.name, v.gauge)
    ways = of_part(v, None if why else gauge)
    said = []
    if ways.readings is not None:
        said.append(f"{ways.readings} readings of it")
    if ways.u is not None:
        said.append(f"a gauge with u of at most {_size(ways.u, asked)}")
    return f"; for {v.part} {' or '.join(said)} would do, if its mean stays" if said else ""


def _assumed_gauge(case: Case, asked: Characteristic, lot: str) -> list[Reason]:
    used = [find(case.gauges, asked.name, v.gauge)[0] for v in case.parts_of(asked.name, lot)]
    assumed = list(dict.fromkeys(g.name for g in used if g is not None and g.assumed))
    if not assumed:
        return []
    what = f"nobody has studied {', '.join(assumed)}, its uncertainty is assumed"
    return [Reason("gauge assumed", "hold" if asked.safety else "release", what)]


def _ways(asked: Characteristic, verdict: LotVerdict, missing: Missing) -> str:
    """What would prove it, each way by itself."""
    said = []
    if missing.parts is not None:
        more = missing.parts - verdict.n
        said.append(f"{more} more part{'s' if more != 1 else ''} ({missing.parts} in all)")
    if missing.common_u is not None:
        said.append(f"a gauge whose error common to all readings has u of at most {_size(missing.common_u, asked)}")
    text = f"; with mean and scatter as read, {' or '.join(said)} would prove it" if said else ""
    if missing.sd is not None and verdict.sd is not None and missing.sd < verdict.sd:
        scatter = f"a scatter of at most {_size(missing.sd, asked)} in place of {_size(verdict.sd, asked)}"
        text += f", and so would {scatter}" if said else f"; with this mean only {scatter} would prove it"
    if not text and verdict.sd:
        text = f"; not even {MOST_PARTS} parts would prove it with this mean and scatter"
    centred = parts_of_a_centred_lot(verdict) if not said else None
    return text + (f"; a lot in the middle of its limits would need {centred} parts" if centred else "")


def reasons_of_trial(case: Case) -> tuple[Reason, ...]:
    """Rig among the suspects, readings that nothing explains."""
    policy, found = case.policy, []
    for s in case.suspicions:
        where = f"lot {s.lot}: " if s.lot and len(case.suspicions) > 1 else ""
        if s.rig >= policy.rig:
            what = (
                f"{where}rig or gauge are among the suspects (P {s.rig:.2f}, {policy.rig:g} or more holds): test again"
            )
            found.append(Reason("rig", "hold", what))
        if s.other >= policy.undeclared:
            what = f"{where}nothing declared may explain it (P {s.other:.2f}; {policy.undeclared:g} or more holds)"
            found.append(Reason("undeclared", "hold", what))
        if s.fit < policy.misfit:
            what = f"{where}even the best explanation fits badly: a worse fit would come up in {s.fit:.1e} of such lots"
            found.append(Reason("misfit", "hold", what))
    return tuple(found)


CLOSES = {
    "fails": ("Set right what makes {names} fail, and make a new lot{parts}",
              "a proof of the new lot in which {names} conform{s}"),
    "not proven": ("Prove {names}: see what is missing beside each", "a proof in which {names} conform{s}"),
    "not read": ("Read {names} on the parts of this lot", "a proof in which {names} conform{s}"),
    "part not read": ("Read {names} on the parts that were left out", "every part of the trial has its reading"),
    "part not proven": ("Read {names} again on the parts that are not proven one by one, or set these parts aside",
                        "each of these parts conforms, or is set aside and marked"),
    "gauge assumed": ("Study the gauge of {names}",
                      "its uncertainty stands in the plant sheet with the study as its source"),
    "prediction": ("Narrow the scatter that puts {names} outside, or measure it where it is assumed",
                   "a prediction whose interval lies under what the sheet allows"),
    "concession": ("Ask the customer for a concession on {names}, with the figures given there",
                   "the customer's written approval for these parts, or a new lot that conforms"),
    "rig": ("Check rig and gauge with a reference damper or master, then test the same parts again",
            "the check noted, and readings that no longer point to the rig"),
    "misfit": ("Find out what the readings show: look at the parts, repeat the test on two of them",
               "an explanation that fits, or a cause that was found and noted"),
    "undeclared": ("Look for a cause that is not on the list, beginning at the stations that these readings see",
                   "a cause that was found and noted, or readings that ordinary scatter explains"),
}  # fmt: skip


def actions_of(case: Case, findings: Sequence[Finding], reasons: Sequence[Reason]) -> tuple[Action, ...]:
    """The likely cause first, then one action for each kind of reason against a release, each with what closes it."""
    actions = [
        Action(
            f"Confirm the likely cause, {c.title} (P {c.probability:.2f}): {c.confirm or 'look at its station'}",
            "the check done and noted" + (f"; if it is so: {c.cure}" if c.cure else ""),
        )
        for c in case.likely()
    ]
    for kind, (what, closes) in CLOSES.items():
        about = [f for f in findings if any(r.kind == kind and r.word != "release" for r in f.reasons)]
        if not about and not any(r.kind == kind for r in reasons):
            continue
        names = list(dict.fromkeys(f.characteristic for f in about))
        least = max((f.new_lot for f in about if f.new_lot is not None), default=None)
        words = {
            "names": ", ".join(names),
            "s": "s" if len(names) == 1 else "",
            "parts": f" (of at least {least} parts, if it is centred and scatters as this one)" if least else "",
        }
        actions.append(Action(what.format(**words), closes.format(**words)))
    return tuple(actions)


def _in(value: float, asked: Characteristic) -> str:
    return format_value(value, asked.unit, 5)


def _size(size: float, asked: Characteristic) -> str:
    """A difference in the characteristic's unit; kelvin where that is a temperature scale."""
    unit = "K" if asked.unit in ("degC", "°C") else asked.unit
    return f"{format_number(size_from_si(size, asked.unit), 2)} {unit}".strip()


def _percent(share: float) -> str:
    return f"{format_number(100.0 * share, 2)} %"


def _limits(asked: Characteristic) -> str:
    low, high = (None if x is None else format_number(from_si(x, asked.unit), 5) for x in (asked.low, asked.high))
    unit = "" if asked.unit in ("", "1") else f" {asked.unit}"
    if low is not None and high is not None:
        return f"{low} to {high}{unit}"
    return f"at most {high}{unit}" if high is not None else f"at least {low}{unit}"
