"""Who signs: one Ed25519 key for each person, in the user's own config folder, made on first use.

The key file is PEM (PKCS 8), readable by its owner only; a passphrase, where there is one, encrypts it. Signatures are
RFC 8032 by the `cryptography` library.
"""

from __future__ import annotations

import hashlib
import os
import re
import secrets
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from firstoff.errors import InputFault, Message

AskPassphrase = Callable[[str], str]  # name of the person -> passphrase
LOCKED = b"ENCRYPTED"  # in a key file that a passphrase locks


@dataclass(frozen=True)
class Signer:
    """A named person with the key at hand."""

    name: str
    key: Ed25519PrivateKey
    protected: bool  # a passphrase was needed to come by the key

    @property
    def public_key(self) -> str:
        return self.key.public_key().public_bytes_raw().hex()

    def sign(self, data: bytes) -> str:
        return self.key.sign(data).hex()


def config_folder() -> Path:
    """`FIRSTOFF_CONFIG`, else the place where this system keeps a user's settings."""
    stated = os.environ.get("FIRSTOFF_CONFIG")
    if stated:
        return Path(stated)
    base = os.environ.get("APPDATA") if sys.platform == "win32" else os.environ.get("XDG_CONFIG_HOME")
    return (Path(base) if base else Path.home() / ".config") / "firstoff"


def key_file(name: str, keys: Path | None = None) -> Path:
    """Where the key of a person lies, in the folder `keys` or the user's own; different names never share a file."""
    readable = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "key"
    return (keys or config_folder() / "keys") / f"{readable}-{hashlib.sha256(name.encode()).hexdigest()[:8]}.pem"


def is_protected(name: str, keys: Path | None = None) -> bool:
    """Whether the key of a person is there and opens by a passphrase only."""
    path = key_file(name, keys)
    return path.is_file() and LOCKED in path.read_bytes()


def named(name: str) -> str:
    """A person's name as it is kept. InputFault when it is none."""
    tidy = " ".join(name.split())
    if not tidy or not any(c.isalpha() for c in tidy) or not tidy.isprintable() or len(tidy) > 80:
        raise InputFault([Message("is no person's name", key="--by", found=name[:80], allowed="e.g. --by 'A. Miller'")])
    return tidy


def signer(name: str, ask: AskPassphrase | None = None, passphrase: str = "", keys: Path | None = None) -> Signer:
    """The key of a person; made on first use, encrypted when there is a `passphrase`.

    ask: called when the key has a passphrase. keys: another folder than the user's own. Raises InputFault when it does
    not fit or others may read the key.
    """
    name = named(name)
    path = key_file(name, keys)
    if not path.exists():
        _make(path, passphrase)
    if os.name == "posix" and path.stat().st_mode & 0o077:
        what = "may be read by others; nothing was signed"
        raise InputFault([Message(what, file=str(path), found=oct(path.stat().st_mode & 0o777), allowed="mode 0600")])
    data = path.read_bytes()
    protected = LOCKED in data
    if protected and not passphrase:
        passphrase = ask(name) if ask else ""
        if not passphrase:
            raise _wrong(path, "needs its passphrase", "FIRSTOFF_PASSPHRASE, or a terminal to ask for it")
    try:
        key = serialization.load_pem_private_key(data, passphrase.encode() if protected else None)
    except ValueError as error:
        raise _wrong(path, "is not opened by this passphrase" if protected else "is no key", "") from error
    if not isinstance(key, Ed25519PrivateKey):
        raise _wrong(path, "is not an Ed25519 key", "")
    return Signer(name, key, protected)


def _wrong(path: Path, what: str, allowed: str) -> InputFault:
    return InputFault([Message(f"{what}; nothing was signed", file=str(path), allowed=allowed)])


def protect(name: str, passphrase: str, ask: AskPassphrase | None = None) -> Signer:
    """Give the key of a person a passphrase, or another one; the key stays the same. `ask`: for the present one."""
    who = signer(name, ask)
    spare = _written(key_file(who.name), who.key, passphrase)
    os.replace(spare, key_file(who.name))
    return Signer(who.name, who.key, bool(passphrase))


def _make(path: Path, passphrase: str) -> None:
    """A new key; whole or not at all, and never over a key that another process has just made."""
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    spare = _written(path, Ed25519PrivateKey.generate(), passphrase)
    try:
        os.link(spare, path)
    except FileExistsError:
        pass
    except OSError:  # a disk without links
        if not path.exists():
            os.replace(spare, path)
    finally:
        spare.unlink(missing_ok=True)


def _written(path: Path, key: Ed25519PrivateKey, passphrase: str) -> Path:
    """The key in a spare file beside its place, on the disk."""
    lock = serialization.BestAvailableEncryption(passphrase.encode()) if passphrase else serialization.NoEncryption()
    data = key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, lock)
    spare = path.with_suffix(f".{secrets.token_hex(8)}")  # several threads may make it at once
    with os.fdopen(os.open(spare, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    return spare


def is_signed(public_key: str, signature: str, data: bytes) -> bool:
    """Whether the signature over `data` was made with this key."""
    try:
        Ed25519PublicKey.from_public_bytes(bytes.fromhex(public_key)).verify(bytes.fromhex(signature), data)
    except (InvalidSignature, ValueError):
        return False
    return True
