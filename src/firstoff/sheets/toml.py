"""A TOML sheet with the line of every key.

tomllib has the last word on what a sheet says; tree-sitter knows where it says so. tomllib stops at its first fault,
and where tree-sitter picks up again after one is not always where the next statement begins; so, once a sheet is
refused, its statements are read one by one and all faults are told at once.
"""

from __future__ import annotations

import re
import tomllib
from collections import deque
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from firstoff.errors import InputFault, Message, nearest

if TYPE_CHECKING:
    from tree_sitter import Node, Parser

KeyPath = tuple[str | int, ...]

LARGEST = 2_000_000  # bytes; a sheet is written by hand
_PARSE_FAULTS = (ValueError, RecursionError, OverflowError)  # TOMLDecodeError is a ValueError
_LONGEST_VALUE = 200  # lines that a list or text may span, when a fault is looked for
_TRIES = 20_000  # statements read singly, when faults are looked for
_OPENED = re.compile(r"""[^#=]*=\s*(\[|\{|\"{3}|'{3})""")
_STATEMENT = re.compile(r"""\s*(?:[\w.-]+\s*=|\[{1,2}[\w."' -]+\]{1,2}\s*(?:#.*)?$)""")
_QUOTED = 'texts and quantities in quotes: {key} = "{value}"'


@dataclass(frozen=True)
class Document:
    """What a sheet says, and where."""

    data: dict[str, Any]
    file: str
    lines: Mapping[KeyPath, int] = field(default_factory=dict)
    remarks: tuple[Message, ...] = ()

    def line(self, key_path: KeyPath) -> int:
        """Line, from 1, of a key, a section's header or an entry of a list; else that of what holds it; else 0."""
        path = tuple(key_path)
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 0)


def read(path: str | Path) -> Document:
    """The sheet in a file. InputFault when it cannot be read or is not TOML."""
    file = str(path)
    raw = _bytes(Path(path), file)
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise _fault(file, "is saved as UTF-16", allowed="UTF-8 text")
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        found = f"byte 0x{raw[error.start]:02x}"
        raise _fault(file, "is not UTF-8 text", line=line, found=found, allowed="text saved as UTF-8") from None
    return parse_document(text, file)


def _bytes(path: Path, file: str) -> bytes:
    try:
        with path.open("rb") as stream:
            raw = stream.read(LARGEST + 1)
    except FileNotFoundError:
        raise _fault(file, "does not exist", near=_neighbour(path)) from None
    except IsADirectoryError:
        raise _fault(file, "is a folder", allowed="a sheet in TOML") from None
    except PermissionError:
        raise _fault(file, "may not be read", allowed="a file this user may read") from None
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        raise _fault(file, f"cannot be read: {getattr(error, 'strerror', None) or error}") from None
    if len(raw) > LARGEST:
        raise _fault(file, f"is larger than {LARGEST // 1_000_000} MB", allowed="a sheet written by hand")
    return raw


def _neighbour(path: Path) -> str:
    try:
        return nearest(path.name, sorted(p.name for p in path.parent.iterdir() if p.suffix == ".toml"))
    except OSError:
        return ""


def _fault(file: str, what: str, *, line: int = 0, found: str = "", allowed: str = "", near: str = "") -> InputFault:
    return InputFault([Message(what, file=file, line=line, found=found, allowed=allowed, nearest=near)])


def parse_document(text: str, file: str) -> Document:
    """The sheet in a text. Line ends of Windows are taken as they are; a byte order mark is dropped with a remark."""
    remarks: tuple[Message, ...] = ()
    if text.startswith("\ufeff"):
        text = text[1:]
        what = "starts with a byte order mark, which is ignored"
        remarks = (Message(what, file=file, line=1, allowed="UTF-8 without a mark", level="remark"),)
    if not text.strip():
        raise _fault(file, "is empty", allowed="a sheet in TOML")
    _refuse_characters(text, file)
    root = _parser().parse(text.encode("utf-8")).root_node
    try:
        data = tomllib.loads(text)
    except RecursionError:
        raise _fault(file, "is nested too deeply", allowed="sections, keys and simple lists") from None
    except _PARSE_FAULTS as error:
        raise InputFault(_syntax_messages(root, text, file, str(error))) from None
    lines, _ = _positions(root)
    return Document(data, file, lines, remarks)


def _refuse_characters(text: str, file: str) -> None:
    """Characters that no sheet may hold, told by name because they cannot be seen."""
    for pattern, what, allowed in (
        ("\0", "holds a NUL: this is no text file", "UTF-8 text"),
        ("[\ud800-\udfff]", "is not UTF-8 text", "text saved as UTF-8"),
        ("\r(?!\n)", "has a line that ends with a carriage return alone", "line ends of Unix or Windows"),
    ):
        match = re.search(pattern, text)
        if match:
            raise _fault(file, what, line=text.count("\n", 0, match.start()) + 1, allowed=allowed)


@lru_cache(maxsize=1)
def _language() -> Any:
    import tree_sitter
    import tree_sitter_toml

    return tree_sitter.Language(tree_sitter_toml.language())


def _parser() -> Parser:
    """A parser of its own for each text: parsers hold state, and several threads may read sheets."""
    import tree_sitter

    return tree_sitter.Parser(_language())


def _nodes(root: Node) -> Iterator[Node]:
    stack = [root]
    while stack:
        node = stack.pop()
        yield node
        stack.extend(reversed(node.children))


# --- where things stand ---------------------------------------------------------------------------------------------


def _key(node: Node) -> tuple[str, ...]:
    """The parts of a bare, quoted or dotted key."""
    parts = []
    for leaf in _nodes(node):
        raw = (leaf.text or b"").decode("utf-8", "replace")
        if leaf.type == "bare_key":
            parts.append(raw)
        elif leaf.type == "quoted_key":
            try:
                parts.append(str(tomllib.loads(f"k = {raw}")["k"]))
            except _PARSE_FAULTS:
                parts.append(raw)
    return tuple(parts)


def _first_key(node: Node) -> Node | None:
    return next((c for c in node.children if c.type in ("bare_key", "quoted_key", "dotted_key")), None)


class _Positions:
    """Collects the line of every path, and the keys that are stated twice."""

    def __init__(self) -> None:
        self.lines: dict[KeyPath, int] = {}
        self.stated: set[KeyPath] = set()  # by a pair or a header, not only as part of a longer path
        self.entries: dict[KeyPath, int] = {}  # [[name]]: how many so far
        self.doubles: list[tuple[KeyPath, int, int]] = []  # path, line, first line

    def put(self, path: KeyPath, line: int) -> None:
        for n in range(1, len(path)):
            self.lines.setdefault(path[:n], line)
        if path in self.stated:
            self.doubles.append((path, line, self.lines[path]))
            return
        self.stated.add(path)
        self.lines[path] = line

    def resolve(self, names: Iterable[str]) -> KeyPath:
        """A header's names with the running number of each [[list]] on the way."""
        path: KeyPath = ()
        for name in names:
            path = (*path, name)
            if path in self.entries:
                path = (*path, self.entries[path] - 1)
        return path

    def header(self, node: Node) -> KeyPath | None:
        key = _first_key(node)
        if key is None:
            return None
        line = node.start_point[0] + 1
        names = _key(key)
        if node.type == "table":
            path = self.resolve(names)
            self.put(path, line)
            return path
        above = (*self.resolve(names[:-1]), names[-1])
        self.entries[above] = self.entries.get(above, 0) + 1
        self.lines.setdefault(above, line)
        path = (*above, self.entries[above] - 1)
        self.put(path, line)
        return path

    def pairs(self, nodes: Iterable[Node], within: KeyPath) -> None:
        """Keys of a table and, without recursion, of the inline tables and lists in them."""
        work = deque((node, within) for node in nodes)
        while work:
            node, path = work.popleft()
            if node.type == "pair":
                key = _first_key(node)
                if key is None:
                    continue
                path = (*path, *_key(key))
                self.put(path, node.start_point[0] + 1)
                work.extend((child, path) for child in node.children if child.type in ("array", "inline_table"))
            elif node.type == "inline_table":
                work.extend((child, path) for child in node.children if child.type == "pair")
            elif node.type == "array":
                values = [c for c in node.named_children if c.type != "comment"]
                for index, value in enumerate(values):
                    self.lines.setdefault((*path, index), value.start_point[0] + 1)
                    if value.type in ("array", "inline_table"):
                        work.append((value, (*path, index)))


def _positions(root: Node) -> tuple[dict[KeyPath, int], list[tuple[KeyPath, int, int]]]:
    found = _Positions()
    found.pairs((c for c in root.children if c.type == "pair"), ())
    for node in root.children:
        if node.type in ("table", "table_array_element"):
            path = found.header(node)
            if path is not None:
                found.pairs((c for c in node.children if c.type == "pair"), path)
    return found.lines, found.doubles


# --- what is wrong --------------------------------------------------------------------------------------------------


def _syntax_messages(root: Node, text: str, file: str, said: str) -> list[Message]:
    """Every fault of the syntax, one a line, in the order of the lines."""
    rows = text.split("\n")
    where = re.search(r"\(at line ([0-9]+), column [0-9]+\)", said)
    own_line = int(where[1]) if where else len(rows)
    found: dict[int, Message] = {}
    broken = _broken_statements(rows)
    for line in broken:
        found[line] = _explain(rows[line - 1] if line <= len(rows) else "", file, line)
    if not broken and not root.has_error:
        for path, line, first in _positions(root)[1]:
            key = ".".join(str(p) for p in path if isinstance(p, str))
            found.setdefault(
                line, Message("is stated twice", file=file, line=line, key=key, found=f"first in line {first}")
            )
    if not found or own_line < min(found):
        found[own_line] = _explain(rows[own_line - 1] if own_line <= len(rows) else "", file, own_line, said)
    return [found[line] for line in sorted(found)]


def _broken_statements(rows: list[str]) -> list[int]:
    """Lines, from 1, at which a statement begins that is not TOML, taken by itself."""
    broken: list[int] = []
    at, tries = 0, _TRIES
    while at < len(rows) and tries > 0:
        tries -= 1
        if _stands_alone(rows[at]):
            at += 1
            continue
        opened = _OPENED.match(rows[at])
        after = at + 1
        while opened and after < min(len(rows), at + _LONGEST_VALUE) and tries > 0:
            after += 1
            tries -= 1
            if _stands_alone("\n".join(rows[at:after])):
                break
        else:
            broken.append(at + 1)
            if opened and opened[1] not in ("[", "{"):
                break  # an open text swallows what follows
            after = at + 1
            while opened and after < len(rows) and not _STATEMENT.match(rows[after]):
                after += 1
        at = after
    return broken


def _stands_alone(row: str) -> bool:
    try:
        tomllib.loads(row)
    except _PARSE_FAULTS:
        return False
    return True


def _explain(row: str, file: str, line: int, said: str = "") -> Message:
    """What is most likely wrong with one line, in plain words."""
    shown = row.strip()[:60]
    pair = re.match(r"""\s*([\w.-]+|"[^"]*"|'[^']*')\s*=\s*([^#]*)""", row)
    key, value = (pair[1], pair[2].strip()) if pair else ("", "")
    what, allowed, found = "is not TOML", "", shown
    if said and _stands_alone(row):
        what = "is not TOML: " + re.sub(r"\s*\(at .*\)$", "", said)[:120]
    elif pair and not value:
        what, allowed = "has no value", _QUOTED.format(key=key, value="30 mm")
    elif value[:1] in ('"', "'"):
        what, found = "has a text that is not closed, or something behind it", value[:60]
        allowed = "one text in quotes on one line; a backslash doubled"
    elif value[:1] in ("[", "{"):
        what, found, allowed = "has a list that cannot be read", value[:60], 'a list like ["1 mm", "2 mm"]'
    elif pair:
        what, found = "has a value that cannot be read", value[:60]
        allowed = _QUOTED.format(key=key, value=value[:40].replace('"', ""))
    elif shown.startswith("["):
        what, allowed = "is a section header that cannot be read", "[name] or [[name]] on a line of its own"
    elif "=" not in shown:
        what, allowed = "is neither a section nor a key with a value", '[section] or key = "value"'
    return Message(what, file=file, line=line, key=key, found=found, allowed=allowed)
