"""How an unknown logger table is written: separator, header lines, time, tokens; by trying."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

from sunledger.config.models.station import Layout
from sunledger.errors import RawFileError
from sunledger.stages.columns import split_fields
from sunledger.stages.guess_time import TimeGuess, guess_time
from sunledger.stages.lines import NUMBER

MOST_LINES = 400
_NUMBER = re.compile(NUMBER)
_COMMA_NUMBER = re.compile(NUMBER.replace(r"\.", ","))
_OVER = re.compile(r"[+-]?(?:inf\w*|ov\w*|over\W?range|>+|\*+)", re.IGNORECASE)
_STATISTICS = re.compile(
    r"(?:avg|average|mean|mid|min|minimum|least|max|maximum|most|std|stdev|sd|dev|spread|smp|sample"
    r"|tot|total|low|high)\d*",
    re.IGNORECASE,
)
_FILLERS = ("-99", "-999", "-9999", "-99999", "-999999", "-6999", "-7999", "9999", "99999")
_COMMENTS = ("#", "%", ";", "//")


@dataclass(frozen=True)
class Guess:
    """
    A guessed layout.

    Parameters
    ----------
    layout : Layout
        Ready to read with.
    columns : tuple of str
        Names of all columns, of the header or invented.
    numeric : tuple of str
        Columns that hold numbers, without those of the time.
    units : dict of str
        Column → unit, where a header line holds units.
    """

    layout: Layout
    columns: tuple[str, ...]
    numeric: tuple[str, ...]
    units: dict[str, str]


@dataclass(frozen=True)
class _Split:
    """A way to split lines, with the rows and the fields that it gives."""

    separator: str
    decimal: str
    quote: str | None
    fields: list[list[str]]
    width: int
    time: TimeGuess

    @property
    def rows(self) -> list[list[str]]:
        return [f for f in self.fields if len(f) == self.width]

    @property
    def merit(self) -> float:
        """Share of lines that are rows, times the share of their fields that are numbers."""
        number = _COMMA_NUMBER if self.decimal == "comma" else _NUMBER
        rows = self.rows
        good = sum(number.fullmatch(field) is not None for row in rows for field in row)
        share = (good + len(self.time.columns) * len(rows)) / (len(rows) * self.width)
        return len(rows) / len(self.fields) * min(share, 1.0) * self.time.share


def guess_layout(data: bytes, path: str) -> Guess:
    """
    Guess how a table is written.

    Parameters
    ----------
    data : bytes
        Beginning of the file, decompressed.
    path : str
        Name for messages.

    Returns
    -------
    guess : Guess
        What fits the first lines best.

    Raises
    ------
    RawFileError
        If nothing that looks like rows with a time is found.
    """
    encoding = _encoding(data)
    text = data.removeprefix(b"\xef\xbb\xbf").decode(encoding, errors="replace")
    lines = [line.strip("\0") for line in re.split(r"\r\n|\n|\r", text)]
    lines = [line for line in lines if line.strip(" \t")][:MOST_LINES]
    comment = _comment(lines)
    if comment:
        lines = [line for line in lines if not line.lstrip(" \t").startswith(comment)]
    splits = [s for s in map(lambda how: _split(lines, *how), _ways()) if s is not None]
    if not splits:
        raise RawFileError(path, 0, "nothing that looks like rows with a time was found")
    best = max(splits, key=lambda s: round(s.merit, 3))
    return _guess(best, encoding, comment)


def _encoding(data: bytes) -> str:
    try:
        data[: data.rfind(b"\n") + 1].decode("utf-8")
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8"


def _comment(lines: Sequence[str]) -> str | None:
    """A mark before some lines, though not before most."""
    for mark in _COMMENTS:
        count = sum(line.lstrip(" \t").startswith(mark) for line in lines)
        if 0 < count < len(lines) / 2:
            return mark
    return None


def _ways() -> list[tuple[str, str, str | None]]:
    marks = ("comma", "semicolon", "tab", "blanks")
    every = product(marks, ("point", "comma"), (None, '"', "'"))
    return [(s, d, q) for s, d, q in every if (s, d) != ("comma", "comma")]


def _split(lines: Sequence[str], separator: str, decimal: str, quote: str | None) -> _Split | None:
    if quote is not None and not any(quote in line for line in lines):
        return None
    if decimal == "comma" and not any("," in line for line in lines):
        return None
    stamp = {"columns": ["x"], "format": "iso8601"}
    how = {"separator": separator, "decimal": decimal, "quote": quote, "time": stamp}
    layout = Layout.model_validate(how)
    fields = [f for line in lines if (f := split_fields(line, layout)) is not None]
    if quote is None and any(_is_quoted(f) for f in fields):
        return None
    width = _row_width(fields)
    rows = [f for f in fields if len(f) == width]
    time = guess_time(rows[len(rows) // 20 :]) if width > 1 else None
    return None if time is None else _Split(separator, decimal, quote, fields, width, time)


def _is_quoted(fields: Sequence[str]) -> bool:
    """Whether several fields of a line stand in quotes."""
    around = [f for f in fields if len(f) > 1 and f[0] == f[-1] and f[0] in "\"'"]
    return len(around) > 1


def _row_width(fields: Sequence[Sequence[str]]) -> int:
    """Number of fields that most lines have, weighed by it: rows are wider than their titles."""
    counts = Counter(len(f) for f in fields)
    return max(counts, key=lambda n: (counts[n] * (n > 1), n), default=0)


def _guess(split: _Split, encoding: str, comment: str | None) -> Guess:
    begin = _first_row(split)
    head, rows = split.fields[:begin], [f for f in split.fields[begin:] if len(f) == split.width]
    closed = all(not row[-1] for row in rows) and split.separator != "blanks"
    width = split.width - closed
    header, named = _header(head, width)
    units = dict(zip(named, head[header.index("units")], strict=False)) if "units" in header else {}
    code = _record_code(split, rows) if not named else None
    names = named or _invented(width, split.time, code is not None)
    numeric = _numeric(rows, names, split)
    missing, over = _tokens(rows, names, numeric, split.decimal)
    plain: dict[str, Any] = {
        "header": header,
        "separator": split.separator,
        "decimal": split.decimal,
        "quote": split.quote,
        "comment": comment,
        "encoding": encoding,
        "time": {"columns": [names[i] for i in split.time.columns], "format": split.time.format},
        "missing": missing,
        "over_range": over,
    }
    plain |= {} if named else {"names": names, "record_code": code}
    return Guess(Layout.model_validate(plain), tuple(names), tuple(numeric), units)


def _first_row(split: _Split) -> int:
    """Number of lines before the first one that has a row's width and is no header."""
    number = _COMMA_NUMBER if split.decimal == "comma" else _NUMBER
    for at, fields in enumerate(split.fields):
        stamp = "".join(fields[i] for i in split.time.columns if i < len(fields))
        numbers = sum(number.fullmatch(f) is not None for f in fields)
        if len(fields) == split.width and any(c.isdigit() for c in stamp) and numbers:
            return at
    return 0


def _header(head: Sequence[Sequence[str]], width: int) -> tuple[list[str], list[str]]:
    """Kinds of the lines before the rows, and the names that one of them holds."""
    fitting = [i for i, f in enumerate(head) if len([*f]) in (width, width + 1) and len(f) > 1]
    if not fitting:
        return ["file"] * len(head), []
    names = max(fitting, key=lambda i: (len({f for f in head[i] if f}), -i))
    kinds = ["file" if i not in fitting else "units" for i in range(len(head))]
    for i in fitting:
        words = [f for f in head[i] if f]
        if words and sum(_STATISTICS.fullmatch(w) is not None for w in words) > len(words) / 2:
            kinds[i] = "statistics"
    kinds[names] = "names"
    return kinds, list(head[names][:width])


def _invented(width: int, time: TimeGuess, coded: bool) -> list[str]:
    names = [f"column_{i + 1}" for i in range(width)]
    words = {1: ("stamp",), 2: ("date", "clock"), 3: ("year", "day_of_year", "hhmm")}
    for place, word in zip(
        time.columns, words.get(len(time.columns), (*words[3], "second")), strict=True
    ):
        names[place] = word
    if coded:
        names[0] = "code"
    return names


def _record_code(split: _Split, rows: Sequence[Sequence[str]]) -> str | None:
    """First field of the rows, where other lines begin with other codes."""
    if 0 in split.time.columns:
        return None
    mine = {row[0] for row in rows}
    others = {f[0] for f in split.fields if len(f) != split.width}
    return next(iter(mine)) if len(mine) == 1 and others and not others & mine else None


def _numeric(rows: Sequence[Sequence[str]], names: Sequence[str], split: _Split) -> list[str]:
    number = _COMMA_NUMBER if split.decimal == "comma" else _NUMBER
    found = []
    for place, name in enumerate(names):
        column = [row[place] for row in rows]
        good = sum(number.fullmatch(field) is not None for field in column)
        unique = names.count(name) == 1 and bool(name)
        if place not in split.time.columns and name != "code" and unique and 2 * good > len(rows):
            found.append(name)
    return found


def _tokens(
    rows: Sequence[Sequence[str]], names: Sequence[str], numeric: Sequence[str], decimal: str
) -> tuple[list[str], list[str]]:
    """Words in columns of numbers, and numbers that loggers write where they have none."""
    number = _COMMA_NUMBER if decimal == "comma" else _NUMBER
    places = [i for i, name in enumerate(names) if name in numeric]
    fields = Counter(row[i] for row in rows for i in places)
    words = [f for f in fields if number.fullmatch(f) is None]
    over = sorted(w for w in words if _OVER.fullmatch(w))
    missing = [w for w in words if w not in over and (w == "" or w[0].isalpha() or w == "-")]
    missing += [f for f in fields if re.split("[.,]", f)[0] in _FILLERS]
    return sorted({"", *missing}), over
