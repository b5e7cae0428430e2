"""The fast way to read rows of a table: a typed scan, with every doubt left to the rule."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from sunledger.config.models.station import Layout
from sunledger.stages.columns import SEPARATORS, Columns
from sunledger.stages.lines import NUMBER
from sunledger.stages.timestamps import StampFormat

LINE_END = 10
_SAMPLE_ROWS = 50
_SWAP_MARKS = bytes.maketrans(b",.", b".,")


@dataclass
class Rows:
    """
    Lines that are to be read with the same columns.

    Parameters
    ----------
    body : bytes
        The lines, each with its end, unquoted.
    ends : ndarray of int64, shape (row,)
        Position of every line end in ``body``.
    """

    body: bytes
    ends: NDArray[np.int64]

    @property
    def starts(self) -> NDArray[np.int64]:
        """
        Position of the first byte of every line.

        Returns
        -------
        starts : ndarray of int64, shape (row,)
            Positions in ``body``.
        """
        starts = np.zeros_like(self.ends)
        starts[1:] = self.ends[:-1] + 1
        return starts

    def chosen(self, rows: NDArray[np.intp]) -> Rows:
        """
        Some of the lines.

        Parameters
        ----------
        rows : ndarray of int, shape (chosen,)
            Which.

        Returns
        -------
        rows : Rows
            Those lines, in the order given.
        """
        starts, stops = self.starts[rows], self.ends[rows] + 1
        parts = zip(starts.tolist(), stops.tolist(), strict=True)
        return Rows(b"".join([self.body[a:b] for a, b in parts]), np.cumsum(stops - starts) - 1)


@dataclass
class Scan:
    """
    Rows as the fast way reads them.

    Parameters
    ----------
    labels : ndarray of int64, shape (row,)
        Labels. [s]
    values : list of ndarray of float64, shape (row,)
        Values of every channel.
    read : ndarray of bool, shape (row,)
        False for the rows that the rule must judge.
    """

    labels: NDArray[np.int64]
    values: list[NDArray[np.float64]]
    read: NDArray[np.bool_]


def scan_rows(rows: Rows, layout: Layout, columns: Columns, stamp: StampFormat) -> Scan:
    """
    Read many rows at once.

    Parameters
    ----------
    rows : Rows
        Lines of the table's own record type, unquoted.
    layout, columns, stamp : Layout, Columns, StampFormat
        How they are written.

    Returns
    -------
    scan : Scan
        Whatever is ``read`` is read as the rule reads it; a row that is not may be good or bad.
    """
    rows = _plain(rows, layout)
    frame = _typed_frame(rows.body, layout, columns)
    if frame.height != len(rows.ends):  # the scanner saw other lines than we did: trust none
        return _nothing(len(rows.ends), len(columns.channels))
    labels, read = stamp.labels(_stamps(frame, layout, columns))
    odd = np.flatnonzero(_odd(frame, columns))
    oddities = rows.chosen(odd)
    read &= _right_width(rows, odd, oddities, layout, columns)
    values = [frame[f"c{i}"].to_numpy() for _, i, _ in columns.channels]
    scan = Scan(labels, values, read)
    if len(odd):
        _settle(scan, odd, oddities, layout, columns)
    return scan


def _nothing(rows: int, channels: int) -> Scan:
    values = [np.full(rows, np.nan) for _ in range(channels)]
    return Scan(np.zeros(rows, np.int64), values, np.zeros(rows, bool))


def _plain(rows: Rows, layout: Layout) -> Rows:
    """The same rows with decimal points and single blanks."""
    if layout.separator == "blanks":
        rows = _single_blanks(rows)
    if layout.decimal == "comma":
        # Swapped, not replaced: a point in a number then stays an error.
        rows = Rows(rows.body.translate(_SWAP_MARKS), rows.ends)
    return rows


def _single_blanks(rows: Rows) -> Rows:
    """Runs of blanks and tabs become one blank; those around a line go."""
    buffer = np.frombuffer(rows.body, np.uint8)
    blank = (buffer == 32) | (buffer == 9)
    before = np.empty_like(blank)
    before[0], before[1:] = True, blank[:-1] | (buffer[:-1] == LINE_END)
    keep = ~(blank & before)
    # What is left of a run in front of a line end is one blank: drop that too.
    kept = np.flatnonzero(keep)
    text = buffer[kept].copy()
    text[text == 9] = 32
    closing = np.zeros(len(text), bool)
    closing[:-1] = (text[:-1] == 32) & (text[1:] == LINE_END)
    text = text[~closing]
    return Rows(text.tobytes(), np.flatnonzero(text == LINE_END))


def _swapped(tokens: tuple[str, ...], layout: Layout) -> list[str]:
    if layout.decimal == "point":
        return list(tokens)
    return [token.translate(str.maketrans(",.", ".,")) for token in tokens]


def _scan_frame(
    body: bytes, layout: Layout, schema: dict[str, pl.DataType], tokens: list[str] | None
) -> pl.DataFrame:
    wanted = [
        # NaN at once, while the scan has the column at hand: later it would be a copy of its own
        pl.col(name).fill_null(np.nan) if kind == pl.Float64 else pl.col(name)
        for name, kind in schema.items()
        if name.startswith("c")
    ]
    return (
        pl.scan_csv(
            body,
            schema=schema,
            has_header=False,
            separator=SEPARATORS[layout.separator],
            # Without a quote character line n stays row n: a stray quote would swallow lines.
            quote_char=None,
            extra_columns="ignore",
            missing_columns="insert",
            ignore_errors=True,
            null_values=tokens,
            empty_string_is_null=False,
            encoding="utf8-lossy",
            infer_schema=False,
            glob=False,
        )
        .select(wanted)
        .collect()
    )


def _typed_frame(body: bytes, layout: Layout, columns: Columns) -> pl.DataFrame:
    tokens = _swapped((*layout.missing, *layout.over_range), layout) or None
    return _scan_frame(body, layout, _schema(columns, pl.Float64()), tokens)


def _schema(columns: Columns, numbers: pl.DataType) -> dict[str, pl.DataType]:
    """Columns that are needed are called c<place>, all others x<place>."""
    channels = {i for _, i, _ in columns.channels}
    schema: dict[str, pl.DataType] = {}
    for i in range(len(columns.names)):
        needed = i in channels or i in columns.time
        kind = numbers if i in channels and i not in columns.time else pl.String()
        schema[f"{'c' if needed else 'x'}{i}"] = kind
    schema["x_over"] = pl.String()  # a table of one column would otherwise not be split at all
    return schema


def _stamps(frame: pl.DataFrame, layout: Layout, columns: Columns) -> pl.Series:
    """Time columns joined by one blank, in the writing of the file."""
    parts = [pl.col(f"c{i}") for i in columns.time]
    if _padded(frame, columns):
        parts = [part.str.strip_chars(" \t") for part in parts]
    if layout.decimal == "comma":
        parts = [part.str.replace_many([",", "."], [".", ","]) for part in parts]
    joined = parts[0] if len(parts) == 1 else pl.concat_str(parts, separator=" ")
    return frame.select(joined.alias("stamp")).to_series()


def _padded(frame: pl.DataFrame, columns: Columns) -> bool:
    """Whether a sample of the time fields has blanks around them."""
    sample = frame.select(f"c{i}" for i in columns.time).head(_SAMPLE_ROWS).fill_null("")
    return any(text != text.strip(" \t") for row in sample.rows() for text in row)


def _separators(rows: Rows, layout: Layout) -> NDArray[np.intp]:
    """Number of separators in every row."""
    buffer = np.frombuffer(rows.body, np.uint8)
    places = np.flatnonzero(buffer == ord(SEPARATORS[layout.separator]))
    return np.diff(np.searchsorted(places, rows.ends), prepend=0)


def _right_width(
    rows: Rows, odd: NDArray[np.intp], oddities: Rows, layout: Layout, columns: Columns
) -> NDArray[np.bool_]:
    """
    Which rows have the right number of separators.

    Where the last column is a channel, a row with a number in it has at least the right number
    of separators; when such rows together have no more, each has exactly that. One count over
    all is much cheaper than one for every row.
    """
    last = len(columns.names) - 1
    right = np.ones(len(rows.ends), bool)
    if any(place == last for _, place, _ in columns.channels) and last not in columns.time:
        found = _separators(oddities, layout)
        right[odd] = found == last
        buffer = np.frombuffer(rows.body, np.uint8)
        total = int(np.count_nonzero(buffer == ord(SEPARATORS[layout.separator])))
        if total - int(found.sum()) == last * (len(right) - len(odd)):
            return right
    return np.asarray(_separators(rows, layout) == last)


def _odd(frame: pl.DataFrame, columns: Columns) -> NDArray[np.bool_]:
    """Rows in which a channel holds anything but a finite number."""
    names = [f"c{i}" for _, i, _ in columns.channels if frame.schema[f"c{i}"] == pl.Float64]
    # A sum is much cheaper than a look at every number, and finite only if all of them are.
    sums = frame.select(pl.col(names).sum()).row(0)
    strange = [
        ~pl.col(n).is_finite()
        for n, total in zip(names, sums, strict=True)
        if total is None or not np.isfinite(total)
    ]
    if not strange:
        return np.zeros(frame.height, bool)
    return frame.select(pl.any_horizontal(strange)).to_series().to_numpy()


def _settle(
    scan: Scan, odd: NDArray[np.intp], oddities: Rows, layout: Layout, columns: Columns
) -> None:
    """Read odd rows once more as texts: tokens stay apart from what is no number."""
    texts = _scan_frame(oddities.body, layout, _schema(columns, pl.String()), None)
    if texts.height != len(odd):
        scan.read[odd] = False
        return
    # All channels one below the other: one pass instead of one for every channel.
    cells = pl.concat([texts[f"c{place}"] for _, place, _ in columns.channels])
    values, known = _values_of(cells, layout)
    for channel, column in enumerate(values.reshape(len(columns.channels), len(odd))):
        mine = scan.values[channel]
        if np.isfinite(mine[odd]).all():  # taken over as it is, without a copy
            continue
        mine = mine if mine.flags.writeable else mine.copy()
        mine[odd] = column
        scan.values[channel] = mine
    scan.read[odd] &= known.reshape(len(columns.channels), len(odd)).all(axis=0)


def _values_of(cells: pl.Series, layout: Layout) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Values of fields written as texts, and which of them the rule would accept."""
    text = cells.str.strip_chars(" \t").fill_null("")
    missing = text.is_in(_swapped(layout.missing, layout)).to_numpy()
    over = text.is_in(_swapped(layout.over_range, layout)).to_numpy() & ~missing
    value = text.cast(pl.Float64, strict=False).fill_null(np.nan).to_numpy(writable=True)
    plain = text.str.contains(f"^(?:{NUMBER})$").to_numpy() & np.isfinite(value)
    value[missing] = np.nan
    value[over] = np.inf
    return value, missing | over | plain
