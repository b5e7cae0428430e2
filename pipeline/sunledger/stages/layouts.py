"""Reading the lines of a block by one layout: header lines, sections, suspects."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sunledger.config.models.station import Layout, Logger
from sunledger.stages.blocks import NO_LABEL, Block, Judged, State
from sunledger.stages.columns import SEPARATORS, Columns, find_columns, header_names, split_fields
from sunledger.stages.lines import MAX_LINE_BYTES, Kind, Verdict, is_record_code, judge_line
from sunledger.stages.quotes import misquoted
from sunledger.stages.scan import Rows, scan_rows
from sunledger.stages.timestamps import compile_format

_STATES = {Kind.GOOD: State.GOOD, Kind.BAD: State.BAD, Kind.OTHER_RECORD: State.OTHER}
_PROMISE_LINES = 40
_LINES_ASKED = 5


@dataclass
class Section:
    """Lines from one header to the next that names other columns."""

    start: int
    stop: int
    columns: Columns | None
    fault: str


class LayoutReader:
    """
    Reads blocks of one file by one layout, and remembers the columns from block to block.

    Parameters
    ----------
    layout : Layout
        How the table is written.
    logger : Logger
        Its channels and zone.
    valid_to : int or None
        Label at which the next layout begins to apply. [s]
    """

    def __init__(self, layout: Layout, logger: Logger, valid_to: int | None) -> None:
        self.layout, self.channels = layout, logger.channels
        self.valid_from, self.valid_to = layout.valid_from, valid_to
        self.stamp = compile_format(layout.time, logger.utc_offset)
        self.names: tuple[str, ...] = ()
        self.columns: Columns | None = None
        self.mapped = False
        named = ", ".join(repr(c) for c in layout.time.columns)
        self.fault = f"no header line that names the time column(s) {named} before this line"
        self._needle = max(layout.time.columns, key=len).encode(layout.encoding, "replace")
        self._telltale = _telltale(self._needle, layout)
        self.header_lines_left = 0
        self._closed: dict[tuple[str, ...], int] = {}
        if layout.names is not None:
            self._take_names(layout.names)
            self.header_lines_left = len(layout.header)

    def promise(self, block: Block) -> int:
        """
        How many of a sample of lines this layout can read.

        Parameters
        ----------
        block : Block
            Lines that are about to be read.

        Returns
        -------
        promise : int
            Number of lines, of an even sample.
        """
        columns = self.columns
        for _, names in self._headers(block)[:1]:
            columns = columns or self._columns_of(names)[0]
        if columns is None:
            return -1
        columns = self._fitted(block, Section(0, len(block.ends), columns, "")) or columns
        rows = np.unique(np.linspace(0, len(block.ends) - 1, _PROMISE_LINES).astype(int))
        verdicts = [judge_line(block.line(r), self.layout, columns, self.stamp) for r in rows]
        return sum(v.kind is Kind.GOOD and self._in_period(v.label) for v in verdicts)

    def read(self, block: Block, wanted: NDArray[np.bool_] | None) -> Judged:
        """
        Judge the lines of the file's next block.

        Parameters
        ----------
        block : Block
            The lines.
        wanted : ndarray of bool, shape (line,), or None
            The lines to judge; None for all.

        Returns
        -------
        judged : Judged
            Verdicts; lines not wanted count as without data.
        """
        judged = Judged.empty(len(block.ends), len(self.channels))
        body = np.ones(len(block.ends), bool) if wanted is None else wanted.copy()
        headers = self._headers(block)
        around = self._around(headers, block, body)
        for section in self._sections(headers, len(block.ends)):
            section.columns = self._fitted(block, section)
            rows = np.flatnonzero(body[section.start : section.stop]) + section.start
            near = [row for row in around if section.start <= row < section.stop]
            self._read_section(block, section, rows, judged)
            self._read_near(block, section, near, judged)
        self._outside_period(judged)
        return judged

    # --- header lines ---------------------------------------------------------------------

    def _take_names(self, names: tuple[str, ...]) -> None:
        self.names = names
        self.columns, self.fault = self._columns_of(names)
        self.mapped = self.mapped or self.columns is not None

    def _columns_of(self, names: tuple[str, ...]) -> tuple[Columns | None, str]:
        try:
            return find_columns(names, self.layout, self.channels), ""
        except ValueError as error:
            return None, str(error)

    def _headers(self, block: Block) -> list[tuple[int, tuple[str, ...]]]:
        """Rows of the header lines that hold names, and those names."""
        if "names" not in self.layout.header:
            return []
        found: list[tuple[int, tuple[str, ...]]] = []
        if self._telltale not in block.data:
            return found
        known, start = self.names, 0
        for row in block.rows_with(self._needle, self._telltale):
            names = header_names(block.line(row)[:MAX_LINE_BYTES], self.layout)
            if names is None:
                continue
            if known and len(names) != len(known):
                before = Section(start, row, self._columns_of(known)[0], "")
                width = len(known) + self._closing_separators(block, before)
                if self._is_remnant(block, row, names, width):
                    continue
            found.append((row, names))
            known, start = names, row
        return found

    def _is_remnant(self, block: Block, row: int, names: tuple[str, ...], known: int) -> bool:
        """
        Whether a header line in the middle of a file is a damaged copy of the one before.

        It is when more of the lines after it have the old number of columns than the new one;
        the old names then go on to apply, and the header line is rejected like any damaged line.
        """
        after = row + len(self.layout.header) - self.layout.header.index("names")
        counts = []
        for line in range(after, min(after + _LINES_ASKED, len(block.ends))):
            text = block.line(line)[:MAX_LINE_BYTES].decode(self.layout.encoding, "replace")
            counts.append(len(split_fields(text, self.layout) or ()))
        return counts.count(known) > counts.count(len(names))

    def _around(
        self, headers: list[tuple[int, tuple[str, ...]]], block: Block, body: NDArray[np.bool_]
    ) -> list[int]:
        """Take header lines out of the body; return those that only their place makes header."""
        order = self.layout.header
        near: list[int] = []
        if self.header_lines_left:
            filled = np.flatnonzero(block.ends > block.starts)[: self.header_lines_left]
            self.header_lines_left -= len(filled)
            near += filled.tolist()
        for row, _ in headers:
            first = row - order.index("names")
            near += [r for r in range(first, first + len(order)) if r != row]
        near = [row for row in dict.fromkeys(near) if 0 <= row < len(body) and body[row]]
        body[near] = False
        body[[row for row, _ in headers]] = False
        return near

    def _sections(self, headers: list[tuple[int, tuple[str, ...]]], lines: int) -> list[Section]:
        """Stretches of lines with the same columns; a header that repeats them ends none."""
        sections = [Section(0, lines, self.columns, self.fault)]
        for row, names in headers:
            if names == self.names:
                continue
            before = self._lines_before_names(row, sections[-1].start)
            sections[-1].stop = before
            self._take_names(names)
            sections.append(Section(before, lines, self.columns, self.fault))
        return [s for s in sections if s.stop > s.start]

    def _lines_before_names(self, row: int, least: int) -> int:
        return max(row - self.layout.header.index("names"), least)

    def _fitted(self, block: Block, section: Section) -> Columns | None:
        """
        The section's columns as its rows are closed: by one separator more or fewer than the names.

        The first rows with readable labels decide it for all rows under the same names.
        """
        columns = section.columns
        if columns is None:
            return None
        closing = self._closing_separators(block, section)
        if closing == 0:
            return columns
        names = (*columns.names, "") if closing > 0 else columns.names[:-1]
        return Columns(names, columns.time, columns.channels)

    def _closing_separators(self, block: Block, section: Section) -> int:
        """Separators that most rows have more (1) or fewer (-1) at their end than the names."""
        columns = section.columns
        if columns is None or self.layout.separator == "blanks":
            return 0
        if columns.names not in self._closed:
            found = self._closing(block, section, columns)
            if not found:
                return 0
            most = max(set(found), key=found.count)
            self._closed[columns.names] = most if 2 * found.count(most) > len(found) else 0
        return self._closed[columns.names]

    def _closing(self, block: Block, section: Section, columns: Columns) -> list[int]:
        """Of the first rows with a label: one empty field more, or one fewer, than the names."""
        closed: list[int] = []
        for row in range(section.start, min(section.start + _PROMISE_LINES, section.stop)):
            text = block.line(row)[:MAX_LINE_BYTES].decode(self.layout.encoding, "replace")
            fields = split_fields(text, self.layout) or []
            if len(fields) <= max(columns.time):
                continue
            code = self.layout.record_code
            if code is not None and fields[0] != code:
                continue
            if self.stamp.label(" ".join(fields[i] for i in columns.time)) is not None:
                more = len(fields) == len(columns.names) + 1 and not fields[-1]
                fewer = len(fields) == len(columns.names) - 1 and not columns.names[-1]
                closed.append(int(more) - int(fewer))
                if len(closed) == _LINES_ASKED:
                    break
        return closed

    # --- data lines -----------------------------------------------------------------------

    def _read_section(
        self, block: Block, section: Section, rows: NDArray[np.intp], judged: Judged
    ) -> None:
        rows = rows[block.ends[rows] > block.starts[rows]]
        if self.layout.comment:
            comment = block.rows_starting(self.layout.comment.encode(self.layout.encoding))
            rows = rows[~comment[rows]]
        if not len(rows):
            return
        if section.columns is None:
            self._unmapped(block, section.fault, rows, judged)
            return
        suspect = self._suspects(block, rows, judged)
        rows = rows[judged.state[rows] == State.NO_DATA]
        for row in self._scan(block, section.columns, rows, suspect, judged):
            verdict = judge_line(block.line(row), self.layout, section.columns, self.stamp)
            _record(judged, row, verdict)

    def _unmapped(self, block: Block, fault: str, rows: NDArray[np.intp], judged: Judged) -> None:
        for row in rows.tolist():
            if block.line(row).strip(b" \t"):
                judged.state[row], judged.reasons[row] = State.BAD, fault

    def _suspects(self, block: Block, rows: NDArray[np.intp], judged: Judged) -> NDArray[np.bool_]:
        """Lines not to be read the fast way; those of other record types are done with."""
        layout = self.layout
        suspect = block.ends - block.starts > MAX_LINE_BYTES
        if b"\0" in block.data:
            suspect[block.rows_with(b"\0")] = True
        if layout.quote and layout.quote.encode() in block.data:
            separator = SEPARATORS[layout.separator]
            suspect[misquoted(block, layout.quote.encode(), separator.encode())] = True
        if layout.record_code is not None:
            self._other_records(block, rows, judged, suspect)
        return suspect

    def _other_records(
        self, block: Block, rows: NDArray[np.intp], judged: Judged, suspect: NDArray[np.bool_]
    ) -> None:
        separator = SEPARATORS[self.layout.separator].encode()
        code = str(self.layout.record_code).encode(self.layout.encoding)
        ours = block.rows_starting(code + separator)
        if self.layout.quote:
            mark = self.layout.quote.encode()
            ours |= block.rows_starting(mark + code + mark + separator)
        for row in rows[~ours[rows]].tolist():
            first = block.line(row)[:64].split(separator, 1)[0].decode("latin-1")
            if not suspect[row] and first != self.layout.record_code and is_record_code(first):
                judged.state[row], judged.reasons[row] = State.OTHER, first
            else:
                suspect[row] = True

    def _scan(
        self,
        block: Block,
        columns: Columns,
        rows: NDArray[np.intp],
        suspect: NDArray[np.bool_],
        judged: Judged,
    ) -> list[int]:
        """Read rows the fast way into the verdicts; return the rows left to the rule."""
        if not len(rows):
            return []
        scan = scan_rows(self._rows(block, rows), self.layout, columns, self.stamp)
        scan.read &= ~suspect[rows]
        if len(rows) == len(judged.state):
            judged.labels, judged.values = scan.labels, scan.values
        else:
            judged.labels[rows] = scan.labels
            for mine, read in zip(judged.values, scan.values, strict=True):
                mine[rows] = read
        judged.state[rows[scan.read]] = State.GOOD
        left = rows[~scan.read]
        judged.labels[left] = NO_LABEL
        return [int(row) for row in left]

    def _rows(self, block: Block, rows: NDArray[np.intp]) -> Rows:
        first, last = int(rows[0]), int(rows[-1])
        quote = (self.layout.quote or "").encode()
        begin = int(block.starts[first])
        quoted = bool(quote) and block.data.find(quote, begin) >= 0
        whole = last - first + 1 == len(rows)
        if whole and last + 1 == len(block.ends) and not quoted:
            return Rows(block.data, block.ends[first:], begin, first)
        if whole:
            body = block.data[begin : int(block.ends[last]) + 1]
            chosen = Rows(body, block.ends[rows] - begin)
        else:
            chosen = Rows(block.data, block.ends).chosen(rows)
        if quoted:
            body = chosen.body.replace(quote, b"")
            return Rows(body, np.flatnonzero(np.frombuffer(body, np.uint8) == 10))
        return chosen

    def _read_near(self, block: Block, section: Section, near: list[int], judged: Judged) -> None:
        """Lines at a header's side are header too, unless they bear a time label."""
        if section.columns is None:
            return
        for row in near:
            verdict = judge_line(block.line(row), self.layout, section.columns, self.stamp)
            if verdict.label is not None:
                _record(judged, row, verdict)

    # --- periods --------------------------------------------------------------------------

    def _in_period(self, label: int | None) -> bool:
        if label is None:
            return False
        after = self.valid_from is None or label >= self.valid_from
        return after and (self.valid_to is None or label < self.valid_to)

    def _outside_period(self, judged: Judged) -> None:
        outside = np.zeros(len(judged.state), bool)
        if self.valid_from is not None:
            outside |= judged.labels < self.valid_from
        if self.valid_to is not None:
            outside |= judged.labels >= self.valid_to
        for row in np.flatnonzero(outside & (judged.state == State.GOOD)).tolist():
            judged.state[row] = State.BAD
            judged.reasons[row] = "the label lies outside the period of the layout that fits"


def _telltale(needle: bytes, layout: Layout) -> bytes:
    """
    One byte of a column's name, if possible one that no data line holds.

    Looking for one byte is ten times faster than looking for a word.
    """
    usual = f"0123456789+-.,:;/ eETZ{''.join((*layout.missing, *layout.over_range))}".encode()
    return next((bytes([b]) for b in needle if b not in usual), needle[:1])


def _record(judged: Judged, row: int, verdict: Verdict) -> None:
    judged.state[row] = _STATES.get(verdict.kind, State.NO_DATA)
    judged.labels[row] = NO_LABEL if verdict.label is None else verdict.label
    if verdict.values:
        judged.own_values()
        for column, value in zip(judged.values, verdict.values, strict=True):
            column[row] = value
    if verdict.reason:
        judged.reasons[row] = verdict.reason
