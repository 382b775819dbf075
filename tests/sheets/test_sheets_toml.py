"""TOML sheets with lines. Outside source: the TOML 1.0 specification (valid and invalid documents), and tomllib as the
reference reader of values."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firstoff.errors import InputFault, Message
from firstoff.sheets.toml import parse_document, read

SHEET = """# a comment
name = "rear"
tube.bore.size = "30 mm"

[bath]   # a section
temperature = "50 °C"
"odd key" = 1
[bath.rack]
rows = [1,
  {deep = 2},  # an entry
  3]
[[trial]]
u = "1 N"
[trial.gauge]
name = "rig"
[[trial]]
u = "2 N"
[[trial.part]]
no = 1
[[trial.part]]
no = 2
"""


def faults(text: str) -> tuple[Message, ...]:
    with pytest.raises(InputFault) as caught:
        parse_document(text, "sheet.toml")
    assert all(m.file == "sheet.toml" for m in caught.value.messages)
    return caught.value.messages


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
@pytest.mark.parametrize(
    ("path", "line"),
    [(("name",), 2), (("tube",), 3), (("tube", "bore", "size"), 3), (("bath",), 5), (("bath", "temperature"), 6),
     (("bath", "odd key"), 7), (("bath", "rack"), 8), (("bath", "rack", "rows"), 9), (("bath", "rack", "rows", 0), 9),
     (("bath", "rack", "rows", 1), 10), (("bath", "rack", "rows", 1, "deep"), 10), (("bath", "rack", "rows", 2), 11),
     (("trial",), 12), (("trial", 0, "u"), 13), (("trial", 0, "gauge", "name"), 15), (("trial", 1), 16),
     (("trial", 1, "u"), 17), (("trial", 1, "part", 0, "no"), 19), (("trial", 1, "part", 1, "no"), 21),
     (("bath", "missing"), 5), (("trial", 1, "missing", "more"), 16), (("nowhere",), 0), ((), 0)],
)  # fmt: skip
def test_lines(path: tuple[str | int, ...], line: int, ends: str) -> None:
    document = parse_document(SHEET.replace("\n", ends), "sheet.toml")
    assert document.data == tomllib.loads(SHEET)
    assert document.line(path) == line


def test_all_syntax_faults_at_once() -> None:
    text = 'bore = 30 mm\nok = 1\nrod = "12 mm\n[b]\nz = \n[c\nk = "1"\nlonely\n'
    got = [(m.line, m.key) for m in faults(text)]
    assert got == [(1, "bore"), (3, "rod"), (5, "z"), (6, ""), (8, "")]
    first = faults(text)[0]
    assert first.found == "30 mm" and 'bore = "30 mm"' in first.allowed


def test_long_values_beside_a_fault_are_no_faults() -> None:
    text = 'a = [1,\n  2]\nb = x y\nc = """\nsome prose\n"""\nlonely\nd = [1,\n 2\ne = 3\nf = 1 mm\n'
    assert [m.line for m in faults(text)] == [3, 7, 8, 11]


def test_a_large_sheet_of_open_lists_is_refused_in_time() -> None:
    assert len(faults("a = [\n" * 50_000)) > 50


def test_doubles_are_told_with_their_first_line() -> None:
    got = faults("a = 1\nb = 2\n[c]\nx = 1\na = 1\n[d]\n[c]\nx = 2\n")
    assert [(m.line, m.key, m.found) for m in got][:1] == [(7, "c", "first in line 3")]
    got = faults("a = 1\nb = 2\na = 3\nb = 4\n")
    assert [(m.line, m.key, m.found) for m in got] == [(3, "a", "first in line 1"), (4, "b", "first in line 2")]


@pytest.mark.parametrize(
    ("text", "line"), [("a = 1 b = 2\n", 1), ("x = 1\na.b = 1\na = 2\n", 3), ("a = 1\n\nb = 2026-13-45\n", 3)]
)
def test_what_only_one_of_the_readers_sees(text: str, line: int) -> None:
    with pytest.raises(tomllib.TOMLDecodeError):
        tomllib.loads(text)
    assert [m.line for m in faults(text)] == [line]


@pytest.mark.parametrize(
    ("raw", "what", "line"),
    [(b"", "is empty", 0), (b" \n\n", "is empty", 0), (b"a = 1\nb = \"\xe9\"\n", "not UTF-8", 2),
     ('a = "é"'.encode("utf-16"), "UTF-16", 0), (b"a=1\n\0\0", "NUL", 2), (b"a=1\rb=2\r", "carriage return", 1),
     (b"a = " + b"[" * 9999, "nested too deeply", 0), (b"#" * 2_000_001, "larger than", 0)],
)  # fmt: skip
def test_files_that_are_no_sheet(tmp_path: Path, raw: bytes, what: str, line: int) -> None:
    file = tmp_path / "sheet.toml"
    file.write_bytes(raw)
    with pytest.raises(InputFault) as caught:
        read(file)
    (message,) = caught.value.messages
    assert what in message.what and message.line == line and message.file == str(file)


def test_no_file(tmp_path: Path) -> None:
    (tmp_path / "damper.toml").write_text("a = 1\n")
    with pytest.raises(InputFault, match=r"does not exist; did you mean damper\.toml\?"):
        read(tmp_path / "dampr.toml")
    with pytest.raises(InputFault, match="is a folder"):
        read(tmp_path)
    with pytest.raises(InputFault, match="cannot be read"):
        read("a\0b")
    with pytest.raises(InputFault, match="cannot be read|does not exist"):
        read(tmp_path / "damper.toml" / "x")


def test_byte_order_mark_is_a_remark(tmp_path: Path) -> None:
    file = tmp_path / "sheet.toml"
    file.write_bytes(b"\xef\xbb\xbfa = 1\r\nb = 2\r\n")
    document = read(file)
    assert document.data == {"a": 1, "b": 2} and document.line(("b",)) == 2
    assert [m.level for m in document.remarks] == ["remark"]


pieces = st.sampled_from(
    [b"[", b"]", b"[[a]]\n", b"[a]\n", b"[a.b]\n", b"a", b".", b"=", b" ", b"\n", b"\r\n", b'"', b"'", b'"""', b"1",
     b"{", b"}", b",", b"a = 1\n", b'b = "x"\n', b"#", b"\\", b"\xc3", b"\xc3\xa9", b"\xef\xbb\xbf", b"\r",
     b"inf", b"\0"]
)  # fmt: skip


@settings(deadline=None, max_examples=400, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.one_of(st.binary(max_size=200), st.lists(pieces, max_size=25).map(b"".join)))
def test_any_bytes_are_a_sheet_or_a_fault(tmp_path: Path, raw: bytes) -> None:
    file = tmp_path / "sheet.toml"
    file.write_bytes(raw)
    try:
        document = read(file)
    except InputFault as fault:
        assert fault.messages and all(m.what and 0 <= m.line <= raw.count(b"\n") + 1 for m in fault.messages)
        lines = [m.line for m in fault.messages]
        assert lines == sorted(set(lines))  # one message a line, in order
        return
    assert document.data == tomllib.loads(raw.decode("utf-8-sig"))
    for path in _paths(document.data, ()):
        assert document.line(path) > 0


def _paths(value: object, path: tuple[str | int, ...]) -> list[tuple[str | int, ...]]:
    if isinstance(value, dict):
        return [p for k, v in value.items() for p in [(*path, k), *_paths(v, (*path, k))]]
    if isinstance(value, list):
        return [p for i, v in enumerate(value) for p in [(*path, i), *_paths(v, (*path, i))]]
    return []
