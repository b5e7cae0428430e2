"""What a raw file seems to be: layout, columns, times, gaps, and the YAML to start from."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import islice
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunledger.config.models.station import Layout, Logger
from sunledger.errors import RawFileError
from sunledger.stages.guess_layout import Guess, guess_layout
from sunledger.stages.rawfiles import FileReadings, file_parts
from sunledger.stages.streams import RawFile, read_pieces

SAMPLE_BYTES = 1 << 18
MOST_REJECTED = 3


@dataclass
class Look:
    """
    What a raw file seems to be.

    Parameters
    ----------
    guess : Guess
        Layout and columns.
    logger : Logger
        Made of it; every column of numbers is a status.
    found : FileReadings
        What the whole file holds when read so.
    rows, missing : int, dict of int
        Good lines; column → missing values.
    steps : Counter of int
        Step from label to label → how often. [s]
    rejected : list of (int, str)
        Line number and reason of the first rejected lines.
    """

    guess: Guess
    logger: Logger
    found: FileReadings
    rows: int = 0
    missing: Counter[str] = field(default_factory=Counter)
    steps: Counter[int] = field(default_factory=Counter)
    rejected: list[tuple[int, str]] = field(default_factory=list)
    rejections: int = 0

    @property
    def interval(self) -> int:
        """
        Most frequent step forwards.

        Returns
        -------
        interval : int
            0 with less than two rows. [s]
        """
        rising = {step: n for step, n in self.steps.items() if step > 0}
        return max(rising, key=lambda s: (rising[s], -s), default=0)


def look(raw: RawFile) -> Look:
    """
    Guess the layout of a raw file and read it so.

    Parameters
    ----------
    raw : RawFile
        Any table that a logger may have written.

    Returns
    -------
    look : Look
        What was found.

    Raises
    ------
    RawFileError
        If the file cannot be opened, or holds nothing that looks like rows with a time.
    """
    sample = b"".join(p.data for p in islice(read_pieces(raw, SAMPLE_BYTES), 1))[:SAMPLE_BYTES]
    guess = guess_layout(sample, raw.name)
    if not guess.numeric:
        raise RawFileError(raw.path, 0, "has rows with a time, but no column of numbers")
    logger = Logger.model_validate(_logger(guess, raw.name, 60))
    seen = Look(guess, logger, FileReadings(raw.name))
    columns = {channel.name: channel.column for channel in logger.channels}
    last: NDArray[np.int64] = np.zeros(0, np.int64)
    for part in file_parts(raw, logger, seen.found):
        labels = np.concatenate([last, part.table.label_time])
        _count(seen.steps, np.diff(labels))
        last = labels[-1:]
        seen.rows += len(part.table.label_time)
        for name, values in part.table.values.items():
            seen.missing[columns[name]] += int(np.isnan(values).sum())
        seen.rejections += len(part.rejected)
        seen.rejected += [(r.line, r.reason) for _, r in part.rejected]
        del seen.rejected[MOST_REJECTED:]
    return seen


def _count(steps: Counter[int], found: NDArray[np.int64]) -> None:
    sizes, counts = np.unique(found, return_counts=True)
    steps.update(dict(zip(sizes.tolist(), counts.tolist(), strict=True)))


# --- in words ---------------------------------------------------------------------------------


def look_lines(seen: Look) -> list[str]:
    """
    Say what a file seems to be.

    Parameters
    ----------
    seen : Look
        From `look`.

    Returns
    -------
    lines : list of str
        Layout, columns, times, gaps, missing values, rejected lines.
    """
    layout, found = seen.guess.layout, seen.found
    lines = [
        f"{found.name}: {seen.rows:,} rows read, {seen.rejections:,} lines rejected",
        f"  separator {layout.separator}, decimal {layout.decimal}, quote {layout.quote or 'none'},"
        f" encoding {layout.encoding}, comment {layout.comment or 'none'}",
        f"  header lines: {', '.join(layout.header) or 'none'}",
        f"  time: {', '.join(layout.time.columns)} as {layout.time.format}",
        f"  missing tokens: {_quoted(layout.missing)}; over-range: {_quoted(layout.over_range)}",
        f"  columns: {', '.join(seen.guess.columns)}",
    ]
    lines += _time_lines(seen)
    for column, count in seen.missing.items():
        if count:
            lines.append(f"  {column}: {count / max(seen.rows, 1):.2%} missing")
    lines += [f"  line {line} rejected: {reason}" for line, reason in seen.rejected]
    if found.other_records:
        lines.append(f"  lines of other record types: {dict(found.other_records)}")
    return lines


def _quoted(tokens: tuple[str, ...]) -> str:
    return ", ".join(json.dumps(token, ensure_ascii=False) for token in tokens) or "none"


def _time_lines(seen: Look) -> Iterator[str]:
    if seen.found.least is None or seen.found.greatest is None:
        yield "  no row could be read"
        return
    first, last = (np.datetime64(t, "s") for t in (seen.found.least, seen.found.greatest))
    yield f"  labels from {first} to {last}, interval {seen.interval} s"
    ahead = {s: n for s, n in seen.steps.items() if s > seen.interval}
    back = sum(n for s, n in seen.steps.items() if s < 0)
    if ahead:
        yield f"  {sum(ahead.values()):,} gaps, the longest of {max(ahead):,} s"
    if back:
        yield f"  labels run backwards {back:,} times"
    if seen.steps.get(0):
        yield f"  {seen.steps[0]:,} labels repeated at once"


# --- as YAML ----------------------------------------------------------------------------------


def _slug(text: str, taken: set[str]) -> str:
    """A name for a status that the configuration takes, and that is not taken yet."""
    plain = re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_")
    plain = plain if plain[:1].isalpha() else f"column_{plain}"
    # A tracker's mode needs the meaning of every code, which a file does not tell.
    plain = "tracker_code" if plain == "tracker_mode" else plain
    name, number = plain, 1
    while name in taken:
        number += 1
        name = f"{plain}_{number}"
    taken.add(name)
    return name


def _channels(guess: Guess) -> list[dict[str, str]]:
    taken: set[str] = set()
    return [
        {"column": c, "status": _slug(c, taken), "unit": guess.units.get(c) or "1"}
        for c in guess.numeric
    ]


def _layout(layout: Layout) -> dict[str, Any]:
    plain = layout.model_dump(mode="json", exclude_defaults=True)
    return {"header": list(layout.header), "separator": layout.separator} | plain


def _logger(guess: Guess, name: str, interval: int) -> dict[str, Any]:
    return {
        "serial_number": "to be filled in",
        "files": [re.sub(r"[0-9]+", "*", name)],
        "layouts": [_layout(guess.layout)],
        "utc_offset": "+00:00",
        "interval": interval,
        "label": "end",
        "channels": _channels(guess),
    }


def fitting_interval(step: int) -> int:
    """
    Interval that the configuration takes, nearest to a step.

    Parameters
    ----------
    step : int
        Most frequent step of the labels. [s]

    Returns
    -------
    interval : int
        A divisor of a minute, or whole minutes that divide an hour. [s]
    """
    allowed = [n for n in range(1, 3601) if (60 % n == 0) or (n % 60 == 0 and 3600 % n == 0)]
    return min(allowed, key=lambda n: abs(n - step))


def look_yaml(seen: Look) -> str:
    """
    Entry of `station.yaml` to start from.

    Parameters
    ----------
    seen : Look
        From `look`.

    Returns
    -------
    text : str
        YAML that reads the file as it is; comments say what the file does not tell.
    """
    logger = _logger(seen.guess, seen.found.name, fitting_interval(seen.interval))
    layout, channels = logger["layouts"][0], logger["channels"]

    def flow(value: Any) -> str:
        return json.dumps(value, ensure_ascii=False)  # JSON is YAML with every text quoted

    first = next(iter(layout))
    lines = ["loggers:", "  logger_1:"]
    lines += [f"    serial_number: {flow(logger['serial_number'])}"]
    lines += [f"    files: {flow(logger['files'])}", "    layouts:"]
    lines += [f"      {'-' if k == first else ' '} {k}: {flow(v)}" for k, v in layout.items()]
    lines += [
        f"    utc_offset: {flow(logger['utc_offset'])}  # of the logger's clock; not in the file",
        f"    interval: {logger['interval']}  # averaging interval, s",
        f"    label: {logger['label']}  # or start: what the label marks is not in the file",
        "    channels:",
        "      # A radiometer's signal has a position and a quantity in place of a status, such as",
        '      # {column: "glob_mean", position: global_1, quantity: ghi, unit: mV}',
        '      # {column: "glob_dev", position: global_1, quantity: ghi, unit: mV, statistic: std}',
    ]
    lines += [f"      - {flow(channel)}" for channel in channels]
    return "\n".join(lines) + "\n"
