"""Appending an entry to a YAML file without touching what stands there, comments included."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import yaml
from pydantic import BaseModel

from sunledger.config.loading import checked_model, load_model
from sunledger.config.yaml_text import parse_text, trap
from sunledger.errors import ConfigError, Fault

_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9_./-]*( [A-Za-z0-9_./-]+)*")
_EMPTY = re.compile(r"(?P<key>:)(?P<value>\s*\[\s*\])?(?P<rest>.*)", re.DOTALL)


class _Dumper(yaml.SafeDumper):
    """Writes text so that no reader takes it for anything else."""


def _text_node(dumper: yaml.SafeDumper, text: str) -> yaml.ScalarNode:
    plain = _PLAIN.fullmatch(text) and trap(text) is None
    words = ("true", "false", "null")
    style = None if plain and text.lower() not in words else '"'
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style=style)


_Dumper.add_representer(str, _text_node)
_Dumper.add_representer(tuple, yaml.SafeDumper.represent_list)


def append_entry(
    path: str | Path, entry: Mapping[str, Any], model: type[BaseModel], key: str = "entries"
) -> None:
    """
    Append an entry to a list of a YAML file.

    Parameters
    ----------
    path : str or Path
        The file, valid as it stands.
    entry : mapping
        The entry as it is to be written: times as text, field names as in the file.
    model : type of BaseModel
        What the file holds.
    key : str
        The list at the top level of the file.

    Raises
    ------
    ConfigError
        If the file is not valid as it stands, or would not be with the entry; it is then left as
        it was. Faults of the entry carry the line it would have had.
    """
    append_entries(path, [entry], model, key)


def append_entries(
    path: str | Path,
    entries: Sequence[Mapping[str, Any]],
    model: type[BaseModel],
    key: str = "entries",
) -> None:
    """
    Append several entries to a list of a YAML file, all or none.

    Parameters
    ----------
    path : str or Path
        The file, valid as it stands.
    entries : sequence of mapping
        Entries as they are to be written: times as text, field names as in the file.
    model : type of BaseModel
        What the file holds.
    key : str
        The list at the top level of the file.

    Raises
    ------
    ConfigError
        If the file is not valid as it stands, or would not be with the entries; it is then left
        as it was. Faults of an entry carry the line it would have had.
    """
    path = Path(path)
    before = load_model(path, model)
    result = text_with_entries(path.read_bytes().decode("utf-8"), entries, key, str(path))
    faults: list[Fault] = []
    after = checked_model(parse_text(result, path), model, faults)
    if after is None:
        raise ConfigError(faults)
    held = getattr(before, key)
    if getattr(after, key)[: len(held)] != held:
        why = "the entry cannot be appended without changing the others; write it by hand"
        raise ConfigError([Fault(str(path), 0, key, why)])
    _replace(path, result)


def text_with_entries(text: str, entries: Sequence[Mapping[str, Any]], key: str, path: str) -> str:
    """
    Text of a YAML file with more entries in a list.

    Parameters
    ----------
    text : str
        The file's text.
    entries : sequence of mapping
        The entries.
    key : str
        The list at the top level.
    path : str
        Name of the file in the faults.

    Returns
    -------
    text : str
        Every line that stood there, and the entries' lines behind the list's last one.

    Raises
    ------
    ConfigError
        If the list is written in brackets and is not empty.
    """
    ending = "\r\n" if "\r\n" in text else "\n"
    lines = text.splitlines(keepends=True)
    if lines and not lines[-1].endswith(("\n", "\r")):
        lines[-1] += ending
    root: Any = yaml.compose(text, Loader=yaml.SafeLoader)
    found = next(((k, v) for k, v in root.value if k.value == key), None)
    if found is None:
        return "".join([*lines, f"{key}:{ending}", *_blocks(entries, 2, ending)])
    name, values = found
    row = name.start_mark.line
    if not values.value:
        lines[row] = _opened(lines[row], len(key))
        return "".join([*lines[: row + 1], *_blocks(entries, 2, ending), *lines[row + 1 :]])
    if values.flow_style:
        why = "is written in [brackets]; write it with one '- ' a line, so that it can grow"
        raise ConfigError([Fault(path, row + 1, key, why)])
    column = values.start_mark.column
    at = _end_of_list(lines, values, column, last=name is root.value[-1][0])
    return "".join([*lines[:at], *_blocks(entries, column, ending), *lines[at:]])


def _opened(line: str, width: int) -> str:
    """A key's line with an empty value, ready for a block below; its comment stays."""
    match = _EMPTY.match(line, line.index(":", width if line[0] not in "\"'" else width + 2))
    return line if match is None else line[: match.end("key")] + match["rest"]


def _blocks(entries: Sequence[Mapping[str, Any]], column: int, ending: str) -> list[str]:
    return [line for entry in entries for line in _block(entry, column, ending)]


def _block(entry: Mapping[str, Any], column: int, ending: str) -> list[str]:
    lines = [line for field, value in entry.items() for line in _field(field, value)]
    marks = ["- ", *["  "] * (len(lines) - 1)]
    return [" " * column + mark + line + ending for mark, line in zip(marks, lines, strict=True)]


def _field(field: str, value: Any) -> list[str]:
    written = yaml.dump(
        {field: value},
        Dumper=_Dumper,
        sort_keys=False,
        allow_unicode=True,
        default_flow_style=None if isinstance(value, list | tuple | dict) else False,
        width=10**6,  # a folded line would need care with its indentation
    )
    return written.splitlines()


def _end_of_list(lines: list[str], values: Any, column: int, last: bool) -> int:
    """Row behind a list's last line and the comments that belong to it."""
    if last:
        return len(lines)
    row = _last_row(values) + 1
    while row < len(lines):
        bare = lines[row].lstrip(" ")
        indent = len(lines[row]) - len(bare)
        if not bare.startswith("#") or indent < max(column, 1):
            return row
        row += 1
    return row


def _last_row(node: Any) -> int:
    """Row of a node's last character; a block's own end mark lies behind later comments."""
    while isinstance(node, yaml.CollectionNode) and not node.flow_style and node.value:
        child = node.value[-1]
        node = child[1] if isinstance(child, tuple) else child
    literal = isinstance(node, yaml.ScalarNode) and node.style in ("|", ">")
    return int(node.end_mark.line) - (1 if literal else 0)


def _replace(path: Path, text: str) -> None:
    """Put text in a file's place at once, so that nobody ever sees half of it."""
    target = path.resolve()  # behind a link, the file itself
    temporary = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        with temporary.open("wb") as stream:
            stream.write(text.encode("utf-8"))
            stream.flush()
            os.fsync(stream.fileno())
        shutil.copymode(target, temporary)
        os.replace(temporary, target)
    finally:
        temporary.unlink(missing_ok=True)
