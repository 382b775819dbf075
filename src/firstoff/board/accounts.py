"""Who may do what: local accounts with argon2, in four steps; who keeps the accounts is marked beside them."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from typing import Any

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from sqlalchemy import Engine, RowMapping, func, select

from firstoff.board import database
from firstoff.board.database import now
from firstoff.board.measures import METRIC, SYSTEMS
from firstoff.errors import InputFault, Message
from firstoff.records.keys import named

ROLES = ("look", "readings", "plan", "sign")  # each may do what those before it may
SHORTEST = 12  # characters of a password
LONGEST = 200
_HASHER = PasswordHasher()  # argon2id with the library's defaults, those of RFC 9106
_NOBODY = _HASHER.hash(secrets.token_hex(16))  # verified when there is no such account, so that both take as long


@dataclass(frozen=True)
class Account:
    """A person with an account."""

    name: str
    role: str
    keeper: bool = False  # keeps the accounts
    active: bool = True
    units: str = METRIC

    def may(self, role: str) -> bool:
        return self.active and ROLES.index(self.role) >= ROLES.index(role)


def count(engine: Engine) -> int:
    with engine.connect() as connection:
        return int(connection.execute(select(func.count()).select_from(database.accounts)).scalar() or 0)


def listed(engine: Engine) -> list[Account]:
    with engine.connect() as connection:
        rows = connection.execute(select(database.accounts).order_by(database.accounts.c.name)).mappings().all()
    return [_account(row) for row in rows]


def find(engine: Engine, name: str) -> Account | None:
    with engine.connect() as connection:
        row = connection.execute(select(database.accounts).where(database.accounts.c.name == name)).mappings().first()
    return _account(row) if row else None


def _account(row: RowMapping) -> Account:
    return Account(row["name"], row["role"], bool(row["keeper"]), bool(row["active"]), row["units"])


def add(engine: Engine, name: str, role: str, password: str, keeper: bool = False, first: bool = False) -> Account:
    """A new account. InputFault when name, role or password will not do. first: only while there is no other."""
    name = named(name)
    faults = _password_faults(name, password)
    if role not in ROLES:
        faults.append(Message("is no role", key="role", found=role[:40], allowed=", ".join(ROLES)))
    if find(engine, name) is not None:
        faults.append(Message("has an account already", key="name", found=name))
    if faults:
        raise InputFault(faults)
    row = {"name": name, "role": role, "hash": _HASHER.hash(password), "created": now(), "keeper": int(keeper),
           "units": METRIC}  # fmt: skip
    with engine.begin() as connection:
        connection.exec_driver_sql("BEGIN IMMEDIATE")
        if first and connection.execute(select(database.accounts.c.name).limit(1)).first() is not None:
            raise InputFault([Message("the board has been set up already", key="code")])
        connection.execute(database.accounts.insert().values(**row, active=1))
    return Account(name, role, keeper)


def _password_faults(name: str, password: str) -> list[Message]:
    if not SHORTEST <= len(password) <= LONGEST:
        return [Message("has the wrong length", key="password", allowed=f"{SHORTEST} to {LONGEST} characters")]
    if len(set(password)) < 5 or name.lower() in password.lower():
        return [Message("is too easy to guess", key="password", allowed="other than the name, five different signs")]
    return []


def check(engine: Engine, name: str, password: str) -> Account | None:
    """The account, when name and password fit and it is in use. Takes as long when there is none of this name."""
    with engine.connect() as connection:
        row = connection.execute(select(database.accounts).where(database.accounts.c.name == name)).mappings().first()
    try:
        _HASHER.verify(row["hash"] if row else _NOBODY, password[:LONGEST])
    except (VerificationError, InvalidHashError):
        return None
    return _account(row) if row and row["active"] else None


def change(engine: Engine, name: str, **values: Any) -> None:
    """Another role, in use or not; every session of the account ends."""
    if "role" in values and values["role"] not in ROLES:
        raise InputFault([Message("is no role", key="role", found=str(values["role"])[:40], allowed=", ".join(ROLES))])
    with engine.begin() as connection:
        connection.execute(database.accounts.update().where(database.accounts.c.name == name).values(**values))
        connection.execute(database.sessions.delete().where(database.sessions.c.account == name))


def set_units(engine: Engine, name: str, units: str) -> None:
    """In which units an account reads and types. InputFault when there are no such."""
    if units not in SYSTEMS:
        raise InputFault([Message("is no system of units", key="units", found=units[:40], allowed=", ".join(SYSTEMS))])
    with engine.begin() as connection:
        connection.execute(database.accounts.update().where(database.accounts.c.name == name).values(units=units))


def set_password(engine: Engine, name: str, password: str) -> None:
    """A new password; every session of the account ends. InputFault when it will not do."""
    faults = _password_faults(name, password)
    if faults:
        raise InputFault(faults)
    change(engine, name, hash=_HASHER.hash(password))


def make_token(engine: Engine, label: str, account: str) -> str:
    """A token by which a rig posts readings. It is shown once; only its digest is kept."""
    tidy = " ".join(label.split())
    if not tidy or len(tidy) > 80 or not tidy.isprintable():
        raise InputFault([Message("is no name for a rig", key="label", found=label[:80], allowed="e.g. damping rig 2")])
    made = f"rig_{secrets.token_urlsafe(32)}"
    row = {"digest": _digest(made), "label": tidy, "account": account, "created": now(), "active": 1}
    with engine.begin() as connection:
        connection.execute(database.tokens.insert().values(**row))
    return made


def rig_of(engine: Engine, token: str) -> str | None:
    """The name of the rig that a token belongs to, while it is in use."""
    table = database.tokens
    with engine.connect() as connection:
        found = select(table.c.label).where(table.c.digest == _digest(token), table.c.active == 1)
        label = connection.execute(found).scalar()
    return None if label is None else str(label)


def rigs(engine: Engine) -> list[RowMapping]:
    with engine.connect() as connection:
        return list(connection.execute(select(database.tokens).order_by(database.tokens.c.created)).mappings())


def end_token(engine: Engine, digest: str) -> None:
    with engine.begin() as connection:
        connection.execute(database.tokens.update().where(database.tokens.c.digest == digest).values(active=0))


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
