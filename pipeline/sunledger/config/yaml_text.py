"""YAML as a person writes it: data with the line of every entry, and every trap refused.

YAML 1.1 reads ``no`` as false, ``12:30`` as 750 and ``010`` as 8, and lets the last of two equal
keys win. Nothing of that kind is guessed here: the file is refused with what to write instead.
Anchors, aliases, merge keys and tags are refused too, since the line of an entry that stands
elsewhere, or is changed where it stands, helps nobody who corrects it. Times stay text.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, ClassVar

import yaml

from sunledger.errors import Fault

Loc = tuple[str | int, ...]

# The parser in C is ten times as fast; both give the same events and lines.
_Base: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_DEEPEST = 40


class _Loader(_Base):  # type: ignore[misc]
    """Safe loader that leaves dates and times as the text they are."""

    yaml_implicit_resolvers: ClassVar[dict[str, Any]] = {
        first: [(tag, pattern) for tag, pattern in pairs if not tag.endswith(":timestamp")]
        for first, pairs in yaml.SafeLoader.yaml_implicit_resolvers.items()
    }


@dataclass(frozen=True)
class SourceLines:
    """
    Where in a file each entry stands.

    Parameters
    ----------
    path : str
        The file, as it was named.
    lines : dict
        Path of keys and indices → line, counted from 1.
    """

    path: str
    lines: dict[Loc, int] = field(repr=False)

    def line(self, *loc: str | int) -> int:
        """
        Line of an entry, or of the nearest enclosing entry that is written.

        Parameters
        ----------
        *loc : str or int
            Keys and list indices from the root.

        Returns
        -------
        line : int
            Counted from 1.
        """
        while loc not in self.lines and loc:
            loc = loc[:-1]
        return self.lines.get(loc, 1)


@dataclass(frozen=True)
class ParsedText:
    """
    A YAML file's data, the lines it stands on, and what is wrong with it.

    Parameters
    ----------
    data : object
        Plain dicts, lists and scalars; None when the text cannot be parsed.
    source : SourceLines
        Lines of the entries.
    faults : tuple of Fault
        Empty when the file may be used.
    """

    data: Any
    source: SourceLines
    faults: tuple[Fault, ...]


_IDENTIFIERS = ("id", "serial_number", "certificate", "column", "name")
_SEXAGESIMAL = re.compile(r"[-+]?\d+(:\d+)+(\.\d*)?")
_LEADING_ZERO = re.compile(r"[-+]?0\d[\d_]*")
_OTHER_BASE = re.compile(r"[-+]?0[xob][0-9a-fA-F_]+")
_GROUPED = re.compile(r"[-+]?\d[\d.]*_[\d_.]*")
_EXPONENT = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)[eE][-+]?\d+")
_NOT_FINITE = re.compile(r"[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)")
_WORDS = re.compile(r"yes|no|on|off|y|n", re.IGNORECASE)

_READERS: dict[str, Callable[[str], Any]] = {
    "null": lambda _: None,
    "bool": lambda text: text.lower() == "true",
    "int": int,
    "float": float,
}
_PATTERN_TRAPS = (
    (_WORDS, 'could mean true or false; write true or false, or quote the word: "{0}"'),
    (_SEXAGESIMAL, 'would be read as a number to base 60; quote it: "{0}"'),
    (_LEADING_ZERO, 'would be read to base 8; write it without leading zero or quote it: "{0}"'),
    (_OTHER_BASE, 'would be read to another base; write it in decimals or quote it: "{0}"'),
    (_GROUPED, 'would be read as one number; write it without _ or quote it: "{0}"'),
    (_NOT_FINITE, 'is not a finite number; leave the entry out or quote it: "{0}"'),
)


def trap(text: str) -> str | None:
    """
    Why an unquoted scalar would not be read as its writer meant it.

    Parameters
    ----------
    text : str
        The scalar as written, without quotes.

    Returns
    -------
    why : str or None
        What is wrong and what to write; None for a harmless scalar.
    """
    for pattern, why in _PATTERN_TRAPS:
        if pattern.fullmatch(text):
            return why.format(text)
    # YAML 1.1 takes an exponent for text unless it has both a point and a sign.
    if _EXPONENT.fullmatch(text) and not re.fullmatch(r"[-+]?\d+\.\d*[eE][-+]\d+", text):
        return f'would be read as text; write {float(text)!r}, or quote it: "{text}"'
    return None


def parse_text(text: str, path: str | Path) -> ParsedText:
    """
    Data and lines of a YAML text, with every fault of its writing.

    Parameters
    ----------
    text : str
        Contents of the file.
    path : str or Path
        Name of the file in the faults.

    Returns
    -------
    parsed : ParsedText
        With data None if the text has no single document that can be read.
    """
    name = str(path)
    bare = SourceLines(name, {})
    text = text.removeprefix("\N{ZERO WIDTH NO-BREAK SPACE}")
    tabs = _tab_faults(text, name)
    try:
        stops = tabs or list(_structure_faults(text, name))
        node = None if stops else yaml.compose(text, Loader=_Loader)
    except yaml.YAMLError as error:
        return ParsedText(None, bare, (_syntax_fault(error, text, name),))
    if node is None:
        stops = stops or [Fault(name, 1, "", "is empty; expected a mapping of entries")]
        return ParsedText(None, bare, tuple(stops))
    source = SourceLines(name, dict(_lines(node, ())))
    if not isinstance(node, yaml.MappingNode):
        why = "must be a mapping (`key: value` lines) at the top level"
        return ParsedText(None, source, (Fault(name, source.line(), "", why),))
    data = _constructed(node)
    labels = item_labels(data)
    faults = (Fault(name, row, dotted(loc, labels), why) for row, loc, why in _traps(node, ()))
    return ParsedText(data, source, tuple(faults))


def parse_file(path: str | Path) -> ParsedText:
    """
    Data and lines of a YAML file, with every fault of its writing.

    Parameters
    ----------
    path : str or Path
        The file; a missing or unreadable one is a fault.

    Returns
    -------
    parsed : ParsedText
        As from `parse_text`.
    """
    raw, name = b"", str(path)
    try:
        raw = Path(path).read_bytes()
        return parse_text(raw.decode("utf-8"), path)
    except FileNotFoundError:
        fault = Fault(name, 0, "", "the file does not exist")
    except OSError as error:
        fault = Fault(name, 0, "", f"cannot be read: {error.strerror or error}")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        found = f"(got byte 0x{raw[error.start]:02x})"
        fault = Fault(name, line, "", f"must be UTF-8 text; save the file as UTF-8 {found}")
    return ParsedText(None, SourceLines(name, {}), (fault,))


def _tab_faults(text: str, path: str) -> list[Fault]:
    marked = [i for i, line in enumerate(text.splitlines(), start=1) if "\t" in line]
    if not marked:
        return []
    found = f"(got tabs on {len(marked)} lines)"
    return [Fault(path, marked[0], "", f"tab character; indent and separate with blanks {found}")]


def _structure_faults(text: str, path: str) -> Iterator[Fault]:
    """What is refused whatever it stands for: several documents, anchors, tags, deep nesting."""
    documents = depth = 0
    for event in yaml.parse(text, Loader=_Loader):
        line = _row(event) + 1
        documents += isinstance(event, yaml.DocumentStartEvent)
        if isinstance(event, yaml.DocumentStartEvent) and documents > 1:
            yield Fault(path, line, "", "second document in one file; allowed: one (remove '---')")
        if isinstance(event, yaml.NodeEvent) and event.anchor is not None:
            why = "anchors (&) and aliases (*) are not allowed; write the entry out where it holds"
            yield Fault(path, line, "", f"{why} (got {event.anchor})")
        tag = getattr(event, "tag", None)
        if tag not in (None, "!"):
            yield Fault(path, line, "", f"tags are not allowed; leave it out (got {tag})")
        depth += isinstance(event, yaml.CollectionStartEvent)
        depth -= isinstance(event, yaml.CollectionEndEvent)
        if depth > _DEEPEST:
            yield Fault(path, line, "", f"nested deeper than {_DEEPEST} levels")
            return


def _syntax_fault(error: yaml.YAMLError, text: str, path: str) -> Fault:
    mark = getattr(error, "problem_mark", None)
    if mark is None:
        offset = getattr(error, "position", 0) or 0
        encoded = text.encode("utf-8", "replace")
        line = encoded.count(b"\n", 0, offset) + 1
        return Fault(path, line, "", "control character; the file must be plain text")
    began = getattr(error, "context_mark", None)
    where = f" begun on line {began.line + 1}" if began and began.line != mark.line else ""
    context = getattr(error, "context", None)
    why = f"not valid YAML: {context + where + ': ' if context else ''}{error.problem}"  # type: ignore[attr-defined]
    hint = '; a text with ": " or a special first character needs quotes'
    # The parser may notice an open quote or bracket only behind the last line.
    line = min(mark.line + 1, max(1, len(text.splitlines())))
    return Fault(path, line, "", why + hint)


def _row(marked: Any) -> int:
    """Row of a node or event, counted from 0."""
    return int(marked.start_mark.line)


def _lines(node: Any, loc: Loc) -> Iterator[tuple[Loc, int]]:
    yield loc, _row(node) + 1
    if isinstance(node, yaml.MappingNode):
        for key, value in node.value:
            below = (*loc, str(key.value))
            yield from _lines(value, below)
            yield below, _row(key) + 1  # the key's line, not the value's, is the entry's
    elif isinstance(node, yaml.SequenceNode):
        for i, item in enumerate(node.value):
            yield from _lines(item, (*loc, i))


def _traps(node: Any, loc: Loc) -> Iterator[tuple[int, Loc, str]]:
    """Line, location and fault of everything that would not be read as it was meant."""
    if isinstance(node, yaml.ScalarNode):
        yield from _scalar_traps(node, loc)
    elif isinstance(node, yaml.SequenceNode):
        for i, item in enumerate(node.value):
            yield from _traps(item, (*loc, i))
    else:
        yield from _key_traps(node, loc)
        for key, value in node.value:
            yield from _traps(value, (*loc, str(key.value)))


def _scalar_traps(node: Any, loc: Loc) -> Iterator[tuple[int, Loc, str]]:
    # The C parser says "" for plain style, the one in Python None.
    why = None if node.style else trap(node.value)
    if why is not None:
        yield _row(node) + 1, loc, f"{why} (got {node.value})"


def _key_traps(node: Any, loc: Loc) -> Iterator[tuple[int, Loc, str]]:
    first: dict[str, int] = {}
    for key, _ in node.value:
        line = _row(key) + 1
        if not isinstance(key, yaml.ScalarNode) or key.tag.endswith((":null", ":float")):
            yield line, loc, "keys must be words or whole numbers"
            continue
        below = (*loc, key.value)
        if key.tag.endswith(":merge"):
            yield line, below, "merge keys (<<) are not allowed; write the entries out"
        elif key.value in first:
            yield line, below, f"given twice; first on line {first[key.value]}"
        else:
            yield from _scalar_traps(key, below)
            first[key.value] = line


def _constructed(node: Any) -> Any:
    """Plain data; keys stay text, so that each entry has the same name in data and lines."""
    if isinstance(node, yaml.MappingNode):
        return {str(key.value): _constructed(value) for key, value in node.value}
    if isinstance(node, yaml.SequenceNode):
        return [_constructed(item) for item in node.value]
    return _scalar(node)


def _scalar(node: Any) -> Any:
    kind = node.tag.rpartition(":")[2]
    if node.style or kind in ("str", "merge", "value"):
        return node.value
    # Traps are reported, but their value must not stop the search for other faults.
    if trap(node.value) is not None:
        return node.value
    return _READERS[kind](node.value)


def dotted(loc: Loc, labels: dict[Loc, str] | None = None) -> str:
    """
    Name of an entry for people, such as ``entries[3] (osr-0042).time``.

    Parameters
    ----------
    loc : tuple of str or int
        Keys and list indices from the root.
    labels : dict or None
        Path of a list's item → its identifier.

    Returns
    -------
    name : str
        Empty for the root.
    """
    name = ""
    for depth, step in enumerate(loc, start=1):
        label = (labels or {}).get(loc[:depth])
        if isinstance(step, int):
            name += f"[{step}]" + (f" ({label})" if label else "")
        else:
            name += f".{step}" if name else step
    return name


def item_labels(data: Any) -> dict[Loc, str]:
    """
    Identifiers of the items of every list of mappings.

    Parameters
    ----------
    data : object
        Plain data.

    Returns
    -------
    labels : dict
        Path of the item → its identifier.
    """
    return dict(_labels(data, ()))


def _labels(data: Any, loc: Loc) -> Iterator[tuple[Loc, str]]:
    if isinstance(data, dict):
        for key, value in data.items():
            yield from _labels(value, (*loc, key))
    elif isinstance(data, list):
        for i, item in enumerate(data):
            if isinstance(item, dict):
                words = (item.get(name) for name in _IDENTIFIERS)
                label = next((str(w) for w in words if isinstance(w, str | int)), None)
                yield from [] if label is None else [((*loc, i), label)]
            yield from _labels(item, (*loc, i))
