"""The records: what was launched, read, explained and decided, by whom and when; append-only, chained and signed.

from firstoff.records import Batch, append, open_records, signer, verify

with open_records("records.db") as records:
    batch = Batch("readings")
    batch.add("readings", part="FO-01", characteristic="rebound_0.52", value=1222.0, unit="N")
    head = append(records, batch, signer("A. Miller"))
    assert verify(records, head).sound
"""

from firstoff.records.append import Head, append, head
from firstoff.records.batch import Batch
from firstoff.records.copies import FORMATS, backup, export, restore
from firstoff.records.findings import Finding, Verification
from firstoff.records.intake import read_parquet
from firstoff.records.keys import Signer, key_file, signer
from firstoff.records.store import Records, is_server, open_records
from firstoff.records.trace import Edge, Trace, find_item, item, part_item, trace_down, trace_up
from firstoff.records.verify import read_head, verify

__all__ = [
    "FORMATS", "Batch", "Edge", "Finding", "Head", "Records", "Signer", "Trace", "Verification", "append", "backup",
    "export", "find_item", "head", "is_server", "item", "key_file", "open_records", "part_item", "read_head",
    "read_parquet", "restore", "signer", "trace_down", "trace_up", "verify",
]  # fmt: skip
