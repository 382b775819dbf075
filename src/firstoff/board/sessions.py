"""Sessions: a signed random token in a cookie that no script reads; form tokens; and how often a login may fail."""

from __future__ import annotations

import hashlib
import hmac
import secrets
import time
from dataclasses import dataclass

from sqlalchemy import Engine, delete, func, select

from firstoff.board import accounts, database
from firstoff.board.accounts import Account

COOKIE = "firstoff_board"
IDLE = 8 * 3600  # s without a page after which a session ends: one shift
LONGEST = 24 * 3600  # s after which it ends anyhow
FAILURES = 5  # of one name or one address ...
WINDOW = 15 * 60  # ... within so many seconds; then it waits


@dataclass(frozen=True)
class Visit:
    """Who asks. Everybody has a token, so that the login form is protected, too; an account only after login."""

    token: str
    account: Account | None
    csrf: str


class Sessions:
    """The sessions of one board."""

    def __init__(self, engine: Engine, key: bytes) -> None:
        self.engine = engine
        self.key = key

    def _sign(self, purpose: str, words: str) -> str:
        return hmac.new(self.key, f"{purpose}:{words}".encode(), hashlib.sha256).hexdigest()

    def fresh(self) -> Visit:
        """A visit of nobody yet."""
        return self._visit(secrets.token_urlsafe(32), None)

    def _visit(self, token: str, account: Account | None) -> Visit:
        return Visit(token, account, self._sign("form", token))

    def cookie(self, visit: Visit) -> str:
        return f"{visit.token}.{self._sign('cookie', visit.token)}"

    def visit(self, cookie: str) -> Visit | None:
        """The visit of a cookie; None when nobody gave it out. An expired session is a visit of nobody."""
        token, _, signature = cookie.partition(".")
        if not token or not hmac.compare_digest(signature.encode(), self._sign("cookie", token).encode()):
            return None
        table, at = database.sessions, int(time.time())
        digest = hashlib.sha256(token.encode()).hexdigest()
        with self.engine.connect() as connection:
            row = connection.execute(select(table).where(table.c.digest == digest)).mappings().first()
        if row is None or at - row["seen"] > IDLE or at - row["began"] > LONGEST:
            return self._visit(token, None)
        if at - row["seen"] > 60:
            with self.engine.begin() as connection:
                connection.execute(table.update().where(table.c.digest == digest).values(seen=at))
        account = accounts.find(self.engine, row["account"])
        return self._visit(token, account if account and account.active else None)

    def begin(self, account: Account) -> Visit:
        """A session under a new token: one that was known before the login is worth nothing after it."""
        visit, at, table = self._visit(secrets.token_urlsafe(32), account), int(time.time()), database.sessions
        digest = hashlib.sha256(visit.token.encode()).hexdigest()
        with self.engine.begin() as connection:
            connection.execute(delete(table).where(table.c.began < at - LONGEST))
            connection.execute(table.insert().values(digest=digest, account=account.name, began=at, seen=at))
        return visit

    def end(self, visit: Visit) -> None:
        digest = hashlib.sha256(visit.token.encode()).hexdigest()
        with self.engine.begin() as connection:
            connection.execute(delete(database.sessions).where(database.sessions.c.digest == digest))

    def genuine(self, visit: Visit, sent: str) -> bool:
        """Whether a form carries the token that was given to this visit."""
        return hmac.compare_digest(sent.encode(), visit.csrf.encode())

    def must_wait(self, *who: str) -> bool:
        """Whether one of these names or addresses has failed too often."""
        table, since = database.attempts, int(time.time()) - WINDOW
        with self.engine.begin() as connection:
            connection.execute(delete(table).where(table.c.at < since))
            found = select(func.count()).where(table.c.who.in_(who)).group_by(table.c.who)
            return any(count >= FAILURES for count in connection.execute(found).scalars())

    def failed(self, *who: str) -> None:
        with self.engine.begin() as connection:
            rows = [{"who": name[:200], "at": int(time.time())} for name in who]
            connection.execute(database.attempts.insert(), rows)

    def succeeded(self, name: str) -> None:
        with self.engine.begin() as connection:
            connection.execute(delete(database.attempts).where(database.attempts.c.who == name))
