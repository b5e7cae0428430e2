"""Invented loggers and the tables they write, for tests of reading."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from sunledger.config.models.station import Channel, Layout, Logger, Station, TimeStamp
from sunledger.stages.streams import RawFile

MARCH = 1930694400  # 2031-03-08 00:00
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
FORMAT = "%Y-%m-%d %H:%M"


def layout(**changes: Any) -> Layout:
    """A layout with one header line, unless told otherwise."""
    stamp = TimeStamp(
        columns=changes.pop("columns", ("stamp",)), format=changes.pop("format", FORMAT)
    )
    return Layout(**{"time": stamp, "missing": ("", "gone"), "over_range": ("beyond",)} | changes)


def logger(*layouts: Layout, columns: tuple[str, ...] = ("a", "b"), **changes: Any) -> Logger:
    """A logger whose columns are plain status channels named like them."""
    channels = tuple(Channel(column=c, unit="1", status=c) for c in columns)
    plain = {
        "serial_number": "NL-1",
        "files": ("**/*.txt",),
        "layouts": layouts or (layout(),),
        "utc_offset": "+01:00",
        "interval": 60,
        "label": "end",
        "channels": channels,
    }
    return Logger(**plain | changes)


def station(**loggers: Logger) -> Station:
    """A station that has nothing but these loggers."""
    contact = {
        "role": "station keeper",
        "institution": "Northmere Radiation Network (invented)",
        "email": "keeper@northmere.example.org",
        "url": "https://northmere.example.org",
    }
    return Station(
        id="ossel",
        name="Ossel Ridge (invented)",
        description="invented",
        latitude=47.0,
        longitude=8.0,
        altitude=1500.0,
        licence="CC-BY-4.0",
        contact=contact,
        site=({"from": "2030-01-01", "surface": "grass"},),
        loggers=loggers,
    )


def written(label: int, form: str = FORMAT) -> str:
    """A label as the standard library writes it."""
    return (EPOCH + timedelta(seconds=int(label))).strftime(form)


def table(labels: Any, values: Any, header: str | None = "stamp,a,b") -> list[str]:
    """Lines of a comma-separated table, without line ends."""
    head = [] if header is None else [header]
    rows = zip(np.asarray(labels).tolist(), np.asarray(values).tolist(), strict=True)
    return head + [",".join([written(t), *map(repr, row)]) for t, row in rows]


def joined(lines: list[str]) -> bytes:
    """Lines as the bytes of a file."""
    return "".join(f"{line}\n" for line in lines).encode()


def stored(root: Path, name: str, data: bytes) -> RawFile:
    """Put a raw file into a raw folder."""
    path = root / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return RawFile(path, name)
