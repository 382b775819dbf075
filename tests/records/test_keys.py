"""Keys: made on first use, for their owner's eyes only, and opened by their passphrase."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from firstoff.errors import InputFault
from firstoff.launch.recorded.authority import Author, author_name
from firstoff.records import key_file, signer
from firstoff.records.keys import is_signed, protect


def test_a_key_is_made_once_and_for_its_owner_only(config: Path) -> None:
    first = signer("Anna Example")
    path = key_file("Anna Example")
    assert path.is_relative_to(config)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert signer("  Anna   Example ").public_key == first.public_key
    assert not first.protected
    assert signer("anna example").public_key != first.public_key
    assert [p.suffix for p in path.parent.iterdir()] == [".pem", ".pem"]  # no spare is left


def test_a_passphrase(config: Path) -> None:
    made = signer("Anna Example", passphrase="plating line 3")
    assert made.protected
    assert b"ENCRYPTED" in key_file("Anna Example").read_bytes()
    asked: list[str] = []

    def ask(name: str) -> str:
        asked.append(name)
        return "plating line 3"

    again = signer("Anna Example", ask)
    assert asked == ["Anna Example"]
    assert is_signed(made.public_key, again.sign(b"x"), b"x")
    with pytest.raises(InputFault, match="is not opened by this passphrase"):
        signer("Anna Example", lambda _: "wrong")
    with pytest.raises(InputFault, match="needs its passphrase"):
        signer("Anna Example")
    again = protect("Anna Example", "another one", lambda _: "plating line 3")
    assert (again.public_key, again.protected) == (made.public_key, True)
    assert signer("Anna Example", lambda _: "another one").public_key == made.public_key
    assert not protect("Anna Example", "", lambda _: "another one").protected
    assert stat.S_IMODE(key_file("Anna Example").stat().st_mode) == 0o600
    assert len(list(config.glob("keys/*"))) == 1
    assert Author("Berta Example", new=lambda _: "secret").signer().protected


def test_a_key_that_others_may_read_signs_nothing() -> None:
    signer("Anna Example")
    key_file("Anna Example").chmod(0o644)
    with pytest.raises(InputFault, match="may be read by others"):
        signer("Anna Example")


def test_what_is_no_key() -> None:
    signer("Anna Example")
    key_file("Anna Example").write_bytes(b"-----BEGIN nothing-----")
    with pytest.raises(InputFault, match="is no key"):
        signer("Anna Example")


@pytest.mark.parametrize("name", ["", "  ", "17", "a\nb\x07", "x" * 81])
def test_what_is_no_name(name: str) -> None:
    with pytest.raises(InputFault, match="name"):
        signer(name)


def test_the_user_of_the_machine_is_no_author(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("USER", "root")
    with pytest.raises(InputFault, match="needs the name of who writes it"):
        author_name()
    monkeypatch.setenv("FIRSTOFF_BY", "Anna Example")
    assert author_name() == "Anna Example"
    assert author_name("Berta Example") == "Berta Example"
