"""Serve: start a board and say on the terminal where it is."""

from __future__ import annotations

import errno
import ipaddress
import os
import socket
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from firstoff.errors import InputFault, Message

STAY = 75  # s that a silent connection is kept: somebody reads, and then sends a form
OPEN = "Open to this network without encryption: put it behind the plant's own TLS proxy, or on a network of its own."


def serve(folder: Path, host: str, port: int, builds: int, names: tuple[str, ...] = ()) -> None:
    """Run the board of `folder` until it is stopped. InputFault when there is none, OSError when the port is taken.

    builds: trial builds of what its worker predicts.
    """
    folder = folder.resolve()
    if not folder.is_dir():
        raise InputFault([Message("is no folder of launch folders", file=str(folder))])
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
        listener.listen()  # who reads the address may ask at once
    except OSError as fault:
        listener.close()
        raise OSError(fault.errno or errno.EADDRINUSE, os.strerror(fault.errno or 0), f"{host}:{port}") from fault
    with _alone(folder):
        _run(folder, host, listener, builds, names)


def _run(folder: Path, host: str, listener: socket.socket, builds: int, names: tuple[str, ...]) -> None:
    import uvicorn

    from firstoff.board.app import create_app

    hosts = {host, *names, *((socket.gethostname(),) if not is_loopback(host) else ())}
    app = create_app(folder, hosts, builds=builds)
    shown = f"[{host}]" if ":" in host else host
    print(f"Launch board of {folder}: http://{shown}:{listener.getsockname()[1]}/", flush=True)
    if not is_loopback(host):
        print(OPEN, flush=True)
    if app.state.board.code:
        print(f"Nobody has an account yet. Code for the first one: {app.state.board.code}", flush=True)
    print("Stop it with Ctrl-C.", flush=True)
    settings = uvicorn.Config(app, log_level="warning", server_header=False, proxy_headers=False,
                              timeout_keep_alive=STAY)  # fmt: skip
    with suppress(KeyboardInterrupt):  # that is how it is stopped
        uvicorn.Server(settings).run(sockets=[listener])


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """One board for a folder: a second would take the first one's running jobs for abandoned."""
    with open(folder / ".board.lock", "w", encoding="utf-8") as file:
        try:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except ImportError:  # not on this system
            pass
        except OSError as fault:
            raise InputFault([Message("has a board running already", file=str(folder))]) from fault
        yield


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach it."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"
