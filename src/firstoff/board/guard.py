"""What every answer carries and every question must satisfy: host, size, headers. Knows no page."""

from __future__ import annotations

from collections.abc import Collection

from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from firstoff.board.texts import text

LARGEST = 16 * 1024 * 1024  # bytes of a question, uploads included
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; connect-src 'self'; "
    "form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), usb=()",
    "cache-control": "no-store",
}


class TooLarge(Exception):
    """More bytes came than a question may have."""


class Guard:
    """Refuses a question for another host (a page elsewhere that points its name here) or of too many bytes."""

    def __init__(self, app: ASGIApp, hosts: Collection[str]) -> None:
        self.app = app
        self.hosts = {host.lower() for host in hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = {name.lower(): value.decode("latin-1") for name, value in scope["headers"]}
        said = headers.get(b"content-length", "0")
        refusal = None
        if not self._is_here(headers.get(b"host", "")):
            refusal = PlainTextResponse(text("fault.421"), 421)
        elif not said.isdigit() or int(said) > LARGEST:
            refusal = PlainTextResponse(text("fault.413", most=LARGEST // 2**20), 413)
        outgoing = _with_headers(send, scope["path"].startswith("/static/"))
        if refusal is not None:
            await refusal(scope, receive, outgoing)
            return
        try:
            await self.app(scope, _counted(receive), outgoing)
        except TooLarge:
            await PlainTextResponse(text("fault.413", most=LARGEST // 2**20), 413)(scope, receive, outgoing)

    def _is_here(self, host: str) -> bool:
        name = host.rpartition(":")[0] if host.rpartition(":")[2].isdigit() else host
        return name.strip("[]").lower() in self.hosts


def _counted(receive: Receive) -> Receive:
    """A question without a stated length is counted as it comes."""
    seen = 0

    async def counted() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > LARGEST:
            raise TooLarge
        return message

    return counted


def _with_headers(send: Send, kept: bool) -> Send:
    """kept: a browser may keep it, and asks whether it is still the same."""
    headers = {**HEADERS, "cache-control": "no-cache"} if kept else HEADERS

    async def outgoing(message: Message) -> None:
        if message["type"] == "http.response.start":
            own = {name.lower() for name, _ in message["headers"]}
            more = [(k.encode(), v.encode()) for k, v in headers.items() if k.encode() not in own]
            message = {**message, "headers": [*message["headers"], *more]}
        await send(message)

    return outgoing
