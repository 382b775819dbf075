"""The records checked by hand, from docs/records.md and the standards alone: nothing of firstoff is used to check."""

from __future__ import annotations

import json
import sqlite3
from hashlib import sha256
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from firstoff.records import Batch, Signer, append, head, open_records

CONTENT = ("people", "texts", "models", "trials", "readings", "results", "items", "edges", "decisions", "concessions",
           "actions")  # fmt: skip
HEAD = "number, batch, kind, author, time, version, note, previous, root, row_count, public_key"


def dense(value: object) -> bytes:
    return json.dumps(value, separators=(",", ":")).encode("ascii")


def tree(hashes: list[bytes]) -> bytes:
    """RFC 6962, 2.1."""
    if len(hashes) == 1:
        return hashes[0]
    k = 1 << (len(hashes) - 1).bit_length() - 1
    return sha256(b"\x01" + tree(hashes[:k]) + tree(hashes[k:])).digest()


def test_the_chain_by_hand(tmp_path: Path, anna: Signer) -> None:
    file = tmp_path / "records.db"
    with open_records(file) as records:
        for i in range(4):
            batch = Batch("readings", f"Charge {i} äöü €")
            batch.add_text("damper.toml", "model sheet", bytes([i, 0, 255]))
            for k in range(5 + i):
                batch.add("readings", part=f"P{k}", lot="Lös]", characteristic="friction", value=k / 3, unit="N")
            append(records, batch, anna)
        noted = str(head(records))
    raw = sqlite3.connect(file)
    previous = "0" * 64
    entries = raw.execute(f"SELECT {HEAD}, hash, signature FROM entries ORDER BY number").fetchall()
    for number, (*values, digest, signature) in enumerate(entries, 1):
        leaves: dict[int, bytes] = {}
        for table in CONTENT:
            for _, position, *row in raw.execute(f"SELECT * FROM {table} WHERE entry = ?", (number,)):
                while row[-1] is None:
                    row.pop()
                kept = [f"sha256:{sha256(v).hexdigest()}" if isinstance(v, bytes) else v for v in row]
                leaves[position] = sha256(b"\x00" + dense([table, *kept])).digest()
        assert sorted(leaves) == list(range(values[9]))
        assert (values[0], values[7]) == (number, previous)
        assert values[8] == tree([leaves[i] for i in range(len(leaves))]).hex()
        signed = dense(["firstoff entry 1", *values])
        assert digest == sha256(signed).hexdigest()
        Ed25519PublicKey.from_public_bytes(bytes.fromhex(values[10])).verify(bytes.fromhex(signature), signed)
        previous = digest
    assert noted == f"4:{previous}"
    assert raw.execute("SELECT name, public_key FROM people").fetchall() == [("Anna Example", anna.public_key)]
