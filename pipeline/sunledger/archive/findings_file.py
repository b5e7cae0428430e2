"""Findings of a month in the archive: JSON lines for programs, beside them a table for people."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sunledger.archive.atomic import replace_text
from sunledger.archive.digest import parsed_digest, plain_data
from sunledger.archive.manifest import Manifest
from sunledger.errors import ArchiveError

FINDINGS = "findings"
"""Folder of the findings in a station's folder."""
FORMAT = "sunledger findings 1"
TABLE_COLUMNS = (
    *("id", "station", "period", "name", "target", "size", "unit", "lower", "upper", "onset"),
    *("severity", "effect", "action", "cannot_tell", "evidence"),
)
_SINGLE = frozenset({str, int, float, bool, type(None)})


@dataclass(frozen=True)
class FindingsFile:
    """
    What a findings file holds.

    Parameters
    ----------
    header : dict
        ``station``, ``period``, ``key``: digest of what the diagnosis read, ``minutes``: logical
        digest of the minutes, ``numbers``: digest of what the month's own numbers rest on,
        ``verdicts``: what each check could say, in words and numbers, ``closure``: of its days.
    rows : tuple of dict
        Findings, the one that costs most first.
    """

    header: Mapping[str, Any]
    rows: tuple[Mapping[str, Any], ...] = ()


def findings_path(station_folder: Path, period: str) -> Path:
    """
    Where the findings of a month stand.

    Parameters
    ----------
    station_folder : Path
        Folder of the station in the archive.
    period : str
        Such as ``2031-03``.

    Returns
    -------
    path : Path
        Of the JSON lines; the table has the same name with ``.csv``.
    """
    folder = Path(station_folder)
    return folder / FINDINGS / f"{folder.name}_{FINDINGS}_{period}.jsonl"


def findings_bytes(file: FindingsFile) -> bytes:
    """
    The one form of a findings file in bytes.

    Parameters
    ----------
    file : FindingsFile
        What to write.

    Returns
    -------
    content : bytes
        ASCII JSON lines: the header with a digest of everything as ``seal``, then the findings.

    Raises
    ------
    ValueError
        If a number is not finite.
    """
    return _bytes_of(plain_data(file.header), [plain_data(row) for row in file.rows])


def _bytes_of(header: Mapping[str, Any], rows: Sequence[Any]) -> bytes:
    """The same of plain data."""
    header = {"format": FORMAT, **header}
    lines = [{**header, "seal": parsed_digest([header, rows])}, *rows]
    text = "".join(f"{json.dumps(line, sort_keys=True, allow_nan=False)}\n" for line in lines)
    return text.encode("ascii")


def _in_order(value: Any) -> Any:
    """Mappings within by name, as they come back from JSON: the table is compared with it."""
    if type(value) in _SINGLE:
        return value
    if isinstance(value, Mapping):
        return {name: _in_order(value[name]) for name in sorted(value)}
    return [_in_order(item) for item in value] if isinstance(value, list | tuple) else value


def _cell(value: Any) -> str:
    if value is None:
        return ""
    text = str(value) if type(value) in _SINGLE else _joined(_in_order(value))
    return f"'{text}" if text[:1] in "=+@\t\r" else text


def _joined(value: Any) -> str:
    if isinstance(value, Mapping):
        value = [f"{name}: {told}" for name, told in value.items()]
    return "; ".join(map(str, value)) if isinstance(value, list | tuple) else str(value)


def table_bytes(rows: Sequence[Mapping[str, Any]]) -> bytes:
    """
    The table of a month's findings.

    Parameters
    ----------
    rows : sequence of dict
        As in the JSON lines.

    Returns
    -------
    content : bytes
        CSV in UTF-8 with a header line; no cell opens like a formula.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(TABLE_COLUMNS)
    writer.writerows([_cell(row.get(name)) for name in TABLE_COLUMNS] for row in rows)
    return out.getvalue().encode()


def write_findings(path: Path, file: FindingsFile) -> None:
    """
    Write the findings of a month and their table, each in one step.

    Parameters
    ----------
    path : Path
        From :func:`findings_path`.
    file : FindingsFile
        What to write.

    Raises
    ------
    ArchiveError
        If the system refuses to write.
    ValueError
        If a number is not finite.
    """
    content = findings_bytes(file)
    replace_text(path.with_suffix(".csv"), table_bytes(file.rows))
    replace_text(path, content)


def read_findings(path: Path) -> FindingsFile:
    """
    The findings of a month.

    Parameters
    ----------
    path : Path
        From :func:`findings_path`.

    Returns
    -------
    file : FindingsFile
        As written.

    Raises
    ------
    ArchiveError
        If there is no such file, or any byte of it was altered.
    """
    try:
        content = path.read_bytes()
        lines = [json.loads(line) for line in content.decode("ascii").splitlines()]
        header = {k: v for k, v in lines[0].items() if k not in ("format", "seal")}
        if _bytes_of(header, lines[1:]) == content:
            return FindingsFile(header, tuple(lines[1:]))
    except OSError as error:
        raise ArchiveError(f"{path}: cannot be read: {error.strerror or error}") from error
    except (ValueError, LookupError, AttributeError, TypeError):
        pass
    raise _altered(path)


def findings_told(path: Path) -> tuple[Mapping[str, Any], ...]:
    """
    Findings of a month whose file was read whole in this run; its seal is not looked at again.

    Parameters
    ----------
    path : Path
        From :func:`findings_path`.

    Returns
    -------
    rows : tuple of dict
        As :func:`read_findings` gives them.

    Raises
    ------
    ArchiveError
        If there is no such file, or a line of it cannot be read.
    """
    try:
        _, *lines = path.read_bytes().decode("ascii").splitlines()
        return tuple(json.loads(line) for line in lines)
    except OSError as error:
        raise ArchiveError(f"{path}: cannot be read: {error.strerror or error}") from error
    except ValueError as error:
        raise _altered(path) from error


def _altered(path: Path) -> ArchiveError:
    why = "was altered, or is no findings file; the next run makes it again"
    return ArchiveError(f"{path}: {why}")


def findings_faults(station_folder: Path) -> Iterator[tuple[Path, str]]:
    """
    What is wrong with the findings files of a station.

    Parameters
    ----------
    station_folder : Path
        Folder of the station in the archive.

    Yields
    ------
    path, why : Path, str
        A file that was altered, or that does not say what its JSON lines say.
    """
    for path in sorted((station_folder / FINDINGS).glob("*.jsonl")):
        try:
            file = read_findings(path)
        except ArchiveError as error:
            yield path, str(error).removeprefix(f"{path}: ")
            continue
        if path != findings_path(station_folder, str(file.header.get("period"))):
            yield path, "does not bear the name of its month"
        table = path.with_suffix(".csv")
        if not table.is_file() or table.read_bytes() != table_bytes(file.rows):
            yield table, "does not say what the JSON lines say; the next run makes it again"


def findings_contradict(path: Path, manifest: Manifest) -> str:
    """
    Why the table of findings in a manifest is not that of the findings file.

    Parameters
    ----------
    path : Path
        The file of minutes.
    manifest : Manifest
        Of that file.

    Returns
    -------
    why : str
        Empty where both say the same, where the month was not diagnosed, or where the findings
        file was altered, which is another fault.
    """
    if manifest.findings is None:
        return ""
    beside = findings_path(path.parents[1], manifest.period)
    if not beside.is_file():
        return f"holds findings, but {beside.name} is missing; the next run makes it again"
    try:
        file = read_findings(beside)
    except ArchiveError:
        return ""
    if file.rows != manifest.findings:
        return f"its findings are not those of {beside.name}; the next run makes them again"
    return ""


def findings_files(station_folder: Path) -> set[Path]:
    """
    Paths that belong to the findings of a station.

    Parameters
    ----------
    station_folder : Path
        Folder of the station in the archive.

    Returns
    -------
    paths : set of Path
        JSON lines and their tables, whether or not they are sound.
    """
    lines = set((station_folder / FINDINGS).glob("*.jsonl"))
    return lines | {path.with_suffix(".csv") for path in lines}
