"""The fast way to read rows of a table: a typed scan, with every doubt left to the rule."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import polars as pl
from numpy.typing import NDArray

from sunledger.config.models.station import Layout
from sunledger.stages.columns import SEPARATORS, Columns
from sunledger.stages.lines import NUMBER
from sunledger.stages.timestamps import StampFormat, left_to_the_rule

LINE_END = 10
_SAMPLE_ROWS = 50
_AT_ONCE = 1 << 20
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
    first : int
        Position of the first line: what stands before it does not count.
    skipped : int
        Number of lines that stand there.
    """

    body: bytes
    ends: NDArray[np.int64]
    first: int = 0
    skipped: int = 0

    @property
    def starts(self) -> NDArray[np.int64]:
        """
        Position of the first byte of every line.

        Returns
        -------
        starts : ndarray of int64, shape (row,)
            Positions in ``body``.
        """
        starts = np.empty_like(self.ends)
        starts[:1], starts[1:] = self.first, self.ends[:-1] + 1
        return starts

    @property
    def buffer(self) -> NDArray[np.uint8]:
        """
        Bytes of the body.

        Returns
        -------
        buffer : ndarray of uint8, shape (byte,)
            Also what stands before the first line.
        """
        return np.frombuffer(self.body, np.uint8)

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
    found = _leading_labels(rows, layout, columns, stamp)
    frame = _typed_frame(rows, layout, columns, stamps=found is None)
    if frame.height != len(rows.ends):  # the scanner saw other lines than we did: trust none
        return _nothing(len(rows.ends), len(columns.channels))
    labels, read = found or stamp.labels(_stamps(frame, layout, columns))
    values = [frame[f"c{i}"].to_numpy() for _, i, _ in columns.channels]
    odd = np.flatnonzero(_odd(values))
    oddities = rows.chosen(odd)
    read &= _right_width(rows, odd, oddities, layout, columns)
    scan = Scan(labels, values, read)
    if len(odd):
        _settle(scan, odd, oddities, layout, columns)
    return scan


def _leading_labels(
    rows: Rows, layout: Layout, columns: Columns, stamp: StampFormat
) -> tuple[NDArray[np.int64], NDArray[np.bool_]] | None:
    """
    Labels straight from the bytes, where the time comes first and is written at full width.

    None where more than some rows are not written so.
    """
    plain = layout.decimal == "point" and columns.time == (0,)
    if not plain or any(place == 0 for _, place, _ in columns.channels):
        return None
    separator = ord(SEPARATORS[layout.separator])
    labels, read = stamp.leading_labels(rows.buffer, rows.starts, rows.ends, separator)
    return (labels, read) if left_to_the_rule(read) else None


def _nothing(rows: int, channels: int) -> Scan:
    values = [np.full(rows, np.nan) for _ in range(channels)]
    return Scan(np.zeros(rows, np.int64), values, np.zeros(rows, bool))


def _plain(rows: Rows, layout: Layout) -> Rows:
    """The same rows with decimal points and single blanks."""
    if layout.separator == "blanks":
        rows = _single_blanks(rows)
    if layout.decimal == "comma":
        # Swapped, not replaced: a point in a number then stays an error.
        rows = replace(rows, body=rows.body.translate(_SWAP_MARKS))
    return rows


def _single_blanks(rows: Rows) -> Rows:
    """Runs of blanks and tabs become one blank; those around a line go."""
    buffer = rows.buffer[rows.first :]
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
    rows: Rows, layout: Layout, schema: dict[str, pl.DataType], tokens: list[str] | None
) -> pl.DataFrame:
    wanted = tuple(name for name in schema if name.startswith("c"))
    numbers = tuple(name for name in wanted if schema[name] == pl.Float64)
    return (
        pl.scan_csv(
            rows.body,
            skip_lines=rows.skipped,
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
        .select(_filled(wanted, numbers))
        .collect()
    )


@lru_cache(maxsize=64)
def _filled(names: tuple[str, ...], numbers: tuple[str, ...]) -> list[pl.Expr]:
    """
    Columns, numbers with NaN for null.

    At once, while the scan has the column at hand: later it would be a copy of its own. Kept, since
    the files of a logger are many and alike.
    """
    return [pl.col(n).fill_null(np.nan) if n in numbers else pl.col(n) for n in names]


def _typed_frame(rows: Rows, layout: Layout, columns: Columns, stamps: bool) -> pl.DataFrame:
    tokens = _swapped((*layout.missing, *layout.over_range), layout) or None
    return _scan_frame(rows, layout, _schema(columns, pl.Float64(), stamps), tokens)


def _schema(columns: Columns, numbers: pl.DataType, stamps: bool) -> dict[str, pl.DataType]:
    """Columns that are needed are called c<place>, all others x<place>."""
    channels = {i for _, i, _ in columns.channels}
    schema: dict[str, pl.DataType] = {}
    for i in range(len(columns.names)):
        needed = i in channels or (stamps and i in columns.time)
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
    places = np.flatnonzero(rows.buffer[rows.first :] == ord(SEPARATORS[layout.separator]))
    return np.diff(np.searchsorted(places, rows.ends - rows.first), prepend=0)


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
        total = _count(rows.buffer[rows.first :], ord(SEPARATORS[layout.separator]))
        if total - int(found.sum()) == last * (len(right) - len(odd)):
            return right
    return np.asarray(_separators(rows, layout) == last)


def _count(buffer: NDArray[np.uint8], byte: int) -> int:
    """How often a byte occurs, without an array as long as the text."""
    parts = (buffer[i : i + _AT_ONCE] for i in range(0, buffer.size, _AT_ONCE))
    return sum(int(np.count_nonzero(part == byte)) for part in parts)


def _odd(values: list[NDArray[np.float64]]) -> NDArray[np.bool_]:
    """Rows in which a channel holds anything but a finite number."""
    finite = np.ones(len(values[0]), bool)
    for column in values:
        if column.dtype.kind == "f":  # else a time column that is a channel too
            finite &= np.isfinite(column)
    return ~finite


def _settle(
    scan: Scan, odd: NDArray[np.intp], oddities: Rows, layout: Layout, columns: Columns
) -> None:
    """Read odd rows once more as texts: tokens stay apart from what is no number."""
    texts = _scan_frame(oddities, layout, _schema(columns, pl.String(), True), None)
    if texts.height != len(odd):
        scan.read[odd] = False
        return
    # All channels one below the other: one pass instead of one for every channel.
    cells = pl.concat([texts[f"c{place}"] for _, place, _ in columns.channels])
    values, known = _values_of(cells, layout)
    for channel, column in enumerate(values.reshape(len(columns.channels), len(odd))):
        mine = scan.values[channel]
        if np.array_equal(mine[odd], column, equal_nan=True):  # as it is, without a copy
            continue
        mine = mine if mine.flags.writeable else mine.copy()
        mine[odd] = column
        scan.values[channel] = mine
    scan.read[odd] &= known.reshape(len(columns.channels), len(odd)).all(axis=0)


def _values_of(cells: pl.Series, layout: Layout) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Values of fields written as texts, and which of them the rule would accept."""
    text = cells.str.strip_chars(" \t").fill_null("")
    missing = text.is_in(_swapped(layout.missing, layout)).to_numpy()
    value, known = np.full(len(text), np.nan), missing.copy()
    # what is missing is most of it, and need not be looked at again
    rest = np.flatnonzero(~missing)
    other = text.gather(rest)
    over = other.is_in(_swapped(layout.over_range, layout)).to_numpy()
    number = other.cast(pl.Float64, strict=False).fill_null(np.nan).to_numpy()
    plain = other.str.contains(f"^(?:{NUMBER})$").to_numpy() & np.isfinite(number)
    value[rest] = np.where(over, np.inf, number)
    known[rest] = over | plain
    return value, known
