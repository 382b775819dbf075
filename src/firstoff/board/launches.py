"""The launch folders of a board: which sheet, which readings, and what they say; nothing is kept that a file says."""

from __future__ import annotations

import hashlib
import re
import threading
import tomllib
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, select
from sqlalchemy.dialects.sqlite import insert

from firstoff.board import database
from firstoff.errors import InputFault, Message
from firstoff.launch.following.follow import Follow, follow
from firstoff.launch.job import Job, read_job
from firstoff.launch.line.plant import is_plant
from firstoff.launch.plan import LaunchPlan, planned
from firstoff.launch.prove import Proof, limits_of, prove
from firstoff.methods.conformity import Limits

MADE = ("verdicts.csv", "first-off-sheet.xlsx", "line-moves.csv")  # by the verbs; no readings
NEW_READINGS = "first_offs.csv"  # where typed readings go when there are none yet


@dataclass(frozen=True)
class Launch:
    """One folder of the board with a model sheet."""

    key: str  # the folder's name
    folder: Path
    sheet: Path
    others: tuple[str, ...]  # further model sheets in the folder, which the board leaves alone
    tables: tuple[str, ...]  # files that may hold readings
    readings: Path | None
    good: Path | None
    owner: str = ""  # of the next action, when somebody was named

    # what is read once stands for the whole answer to one question: each question makes its launches anew

    @cached_property
    def revision(self) -> str:
        """Digest of the model sheet and of those that it names: what a result was made from."""
        return _digest_of(_sheets(self.sheet))

    @cached_property
    def readings_digest(self) -> str:
        return digest(self.readings)

    @cached_property
    def inputs(self) -> dict[str, str]:
        """What a result may rest on."""
        return {"sheets": self.revision, "readings": self.readings_digest, "good": digest(self.good),
                "line": digest(line_sheet(self))}  # fmt: skip

    @cached_property
    def state(self) -> str:
        """What pages of the launch show: another word as soon as somebody has saved sheets or readings."""
        words = (self.revision, self.readings_digest, digest(self.good))
        return hashlib.sha256(" ".join(words).encode()).hexdigest()[:16]


def line_sheet(launch: Launch) -> Path | None:
    """The plant sheet of the folder that has a plating line."""
    for file in sorted(launch.folder.glob("*.toml")):
        if _is_plant(file, file.read_bytes()):
            return file
    return None


@lru_cache(maxsize=256)
def _is_plant(file: Path, _: bytes) -> bool:
    """Read once for each state of the file."""
    try:
        return is_plant(file)
    except InputFault:
        return False


def digest(file: Path | None) -> str:
    """Of a file's bytes; empty when there is none."""
    return hashlib.sha256(file.read_bytes()).hexdigest() if file and file.is_file() else ""


def _sheets(sheet: Path) -> tuple[Path, ...]:
    """A model sheet, the plant sheet that it names, and the parts bin that this one names."""
    found = [sheet]
    for section, key in (("model", "plant"), ("plant", "parts")):
        try:
            name = _named(found[-1].read_bytes(), section, key)
        except OSError:
            break
        if not isinstance(name, str) or not (found[-1].parent / name).is_file():
            break
        found.append(found[-1].parent / name)
    return tuple(found)


@lru_cache(maxsize=256)
def _named(data: bytes, section: str, key: str) -> object:
    """The value of a key of a sheet; None when there is none, or the sheet is no TOML."""
    try:
        head = tomllib.loads(data.decode("utf-8-sig")).get(section)
    except (ValueError, RecursionError):
        return None
    return head.get(key) if isinstance(head, dict) else None


def _digest_of(files: tuple[Path, ...]) -> str:
    made = hashlib.sha256()
    for file in files:
        made.update(file.name.encode() + b"\0" + file.read_bytes() + b"\0")
    return made.hexdigest()


def all_launches(root: Path, engine: Engine) -> list[Launch]:
    """Every folder right under the board's that holds a model sheet, by name."""
    chosen = _choices(engine)
    found = (_launch(folder, chosen.get(folder.name, {})) for folder in _folders(root))
    return [launch for launch in found if launch is not None]


def _folders(root: Path) -> list[Path]:
    return sorted(p for p in root.iterdir() if p.is_dir() and not p.name.startswith("."))


def find(root: Path, engine: Engine, key: str) -> Launch | None:
    """The launch of this name; only a folder that is listed is ever looked into."""
    folder = next((folder for folder in _folders(root) if folder.name == key), None)
    return _launch(folder, _choices(engine).get(key, {})) if folder else None


def _choices(engine: Engine) -> dict[str, Mapping[str, Any]]:
    with engine.connect() as connection:
        return {row["launch"]: dict(row) for row in connection.execute(select(database.choices)).mappings()}


def choose(engine: Engine, key: str, **values: str) -> None:
    """Which file holds the readings, which the known-good lot, who owns the next action."""
    made = insert(database.choices).values(launch=key, **({"readings": "", "good": "", "owner": ""} | values))
    with engine.begin() as connection:
        connection.execute(made.on_conflict_do_update(index_elements=["launch"], set_=values))


def _launch(folder: Path, chosen: Mapping[str, Any]) -> Launch | None:
    sheets = [file for file in sorted(folder.glob("*.toml")) if _is_model_sheet(file)]
    if not sheets:
        return None
    tables = tuple(
        file.name
        for file in sorted(folder.iterdir())
        if file.suffix.lower() in (".csv", ".xlsx", ".xlsm") and file.name not in MADE and not file.name.startswith(".")
    )
    readings = _pick(tables, chosen.get("readings", ""), r"first[-_ ]?off|reading")
    good = _pick(tables, chosen.get("good", ""), r"good")
    if readings is None and good is None and len(tables) == 1:
        readings = tables[0]
    return Launch(
        folder.name, folder, sheets[0], tuple(s.name for s in sheets[1:]), tables,
        folder / readings if readings else None, folder / good if good and good != readings else None,
        str(chosen.get("owner", "")),
    )  # fmt: skip


def _pick(tables: tuple[str, ...], chosen: str, pattern: str) -> str | None:
    """What somebody chose, or the first whose name says what it is."""
    if chosen in tables:
        return chosen
    return next((name for name in tables if re.search(pattern, name, re.IGNORECASE)), None)


def _is_model_sheet(file: Path) -> bool:
    try:
        return _is_model_text(file.read_bytes())
    except OSError:
        return False


@lru_cache(maxsize=256)
def _is_model_text(data: bytes) -> bool:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return False
    try:
        head = tomllib.loads(text).get("model")
    except (ValueError, RecursionError):  # with a fault in it, it is a model sheet all the same
        return re.search(r"^\s*\[model\]", text, re.MULTILINE) is not None
    return isinstance(head, dict)


@dataclass(frozen=True)
class Known:
    """What the sheets of a launch say: everything, limits only, or faults."""

    job: Job | None
    plan: LaunchPlan | None
    faults: tuple[Message, ...] = ()  # nothing can be computed
    missing: tuple[Message, ...] = ()  # what planning still needs

    @property
    def warnings(self) -> tuple[Message, ...]:
        return (*(self.job.remarks if self.job else ()), *(self.plan.warnings if self.plan else ()))

    @property
    def beside(self) -> list[str]:
        """The tests that are computed beside the route, by title."""
        if self.plan is None:
            return []
        on_route = {station.name for station in self.plan.route}
        return [str(getattr(s, "title", s.name)) for s in self.plan.stations if s.name not in on_route]

    @staticmethod
    def at_work(found: Mapping[str, Any]) -> set[str]:
        """Stations at which somebody will look, by an explanation, or move a setting, by a correction."""
        causes = [s for lot in found["lots"] for cause in lot["causes"][:3] for s in cause.get("stations", ())]
        moves = [m for lot in found["lots"] for each in lot.get("corrections", ()) for m in each["moves"]]
        return {*causes, *(m["parameter"].split(".")[0] for m in moves)}

    def cautions(self, stations: Collection[str] | None = None) -> tuple[str, ...]:
        """What is never done to a part, and where the work can hurt: at these stations, or where a limit is read."""
        said = [self.job.family.handling] if self.job and self.job.family.handling else []
        for settled in self.plan.plans.values() if self.plan else ():
            asked = any(limits_of(c) != Limits() for c in settled.gives)
            if settled.station in stations if stations is not None else asked:
                said += settled.cautions
        return tuple(dict.fromkeys(said))


@lru_cache(maxsize=64)
def _known(sheet: Path, revision: str) -> Known:
    try:
        job = read_job(sheet)
    except InputFault as fault:
        return Known(None, None, fault.messages)
    plan, missing = planned(job)
    return Known(job, plan, (), missing)


def known(launch: Launch) -> Known:
    """What the sheets say; read once for each revision of them."""
    return _known(launch.sheet, launch.revision)


@dataclass(frozen=True)
class Judged:
    """The verdicts on a launch's readings, or why there are none."""

    proof: Proof | None
    faults: tuple[Message, ...] = ()


_JUDGING = threading.Lock()


@lru_cache(maxsize=64)
def _judged(sheet: Path, readings: Path, revision: str, digest: str) -> Judged:
    job = _known(sheet, revision).job
    if job is None:
        return Judged(None)
    try:
        return Judged(prove(job, readings))
    except InputFault as fault:
        return Judged(None, fault.messages)


def judged(launch: Launch) -> Judged:
    """The verdicts on the readings; computed once for each state of sheets and readings."""
    if launch.readings is None or not launch.readings_digest:
        return Judged(None)
    with _JUDGING:  # who asks for the same meanwhile gets what the first has found
        return _judged(launch.sheet, launch.readings, launch.revision, launch.readings_digest)


@lru_cache(maxsize=64)
def _followed(sheet: Path, readings: Path, good: Path | None, revision: str, digests: tuple[str, str]) -> Follow | None:
    job = _known(sheet, revision).job
    try:
        return follow(job, readings, good) if job else None
    except InputFault:
        return None


def followed(launch: Launch) -> Follow | None:
    """The running lots; computed once for each state of sheets and readings. None where nothing can be read."""
    if launch.readings is None or not launch.readings.is_file():
        return None
    digests = (digest(launch.readings), digest(launch.good))
    return _followed(launch.sheet, launch.readings, launch.good, launch.revision, digests)
