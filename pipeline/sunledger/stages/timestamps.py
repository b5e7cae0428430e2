"""Time labels: how a logger writes date and time, read one by one (the rule) or all at once."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

import numpy as np
import polars as pl
from numpy.typing import NDArray

from sunledger.config.models.station import TimeStamp
from sunledger.stages.time_parts import DAY, labels_of_parts

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_EPOCH_DAY = date(1970, 1, 1).toordinal()
# Regular expressions that Python and polars read alike; the group names are the directives.
_DIRECTIVES = {
    "Y": "(?P<Y>[0-9]{4})",
    "y": "(?P<y>[0-9]{2})",
    "m": "(?P<m>[0-9]{1,2})",
    "d": "(?P<d>[0-9]{1,2})",
    "j": "(?P<j>[0-9]{1,3})",
    "H": "(?P<H>[0-9]{1,2})",
    "I": "(?P<I>[0-9]{1,2})",
    "M": "(?P<M>[0-9]{1,2})",
    "S": "(?P<S>[0-9]{1,2})",
    "f": "0{1,6}",
    "b": "(?P<b>[A-Za-z]{3})",
    "B": "(?P<b>[A-Za-z]{3})[a-z]*",
    "p": "(?P<p>[AaPp])[Mm]",
    "z": "(?P<z>Z|[+-][0-9]{2}:?[0-9]{2})",
    "%": "%",
}
_WIDTHS = {"Y": 4, "y": 2, "m": 2, "d": 2, "j": 3, "H": 2, "M": 2, "S": 2}
_WORDS = {
    "iso8601": "(?P<Y>[0-9]{4})-(?P<m>[0-9]{2})-(?P<d>[0-9]{2})(?:T| +)"
    "(?P<H>[0-9]{2}):(?P<M>[0-9]{2})(?::(?P<S>[0-9]{2})(?:[.,]0+)?)?"
    "(?P<z>Z|[+-][0-9]{2}:?[0-9]{2})?",
    "epoch_seconds": "(?P<s>[0-9]{1,11})(?:[.]0*)?",
    "year_day_hhmm": "(?P<Y>[0-9]{4}) (?P<j>[0-9]{1,3}) (?P<c>[0-9]{1,4})(?: (?P<S>[0-9]{1,2}))?",
}
_ISO_TEMPLATES = ("%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M")


@dataclass(frozen=True)
class StampFormat:
    """
    A compiled time format.

    Parameters
    ----------
    pattern : str
        Regular expression for the time columns joined by one blank.
    utc_offset : int
        Offset of the logger's zone, to which labels with an explicit offset are brought. [s]
    templates : tuple of tuple
        For each fixed-width writing: directive or literal character of every position.
    """

    pattern: str
    utc_offset: int
    templates: tuple[tuple[str, ...], ...] = ()

    def label(self, text: str) -> int | None:
        """
        Label of one written time: the rule that every faster way must follow.

        Parameters
        ----------
        text : str
            Time columns, stripped and joined by one blank.

        Returns
        -------
        label : int or None
            Seconds since 1970-01-01 in the logger's own clock and zone; None when the text is
            not such a time, or no time of the calendar. [s]

        Notes
        -----
        Nothing is applied to a label, with one exception: an explicit offset in the text states
        the true zone, and the label is brought from there to the logger's ``utc_offset``.
        ``24:00`` is the end of the day. Labels are whole seconds.
        """
        match = _compiled(self.pattern).fullmatch(text)
        return None if match is None else _one_label(match.groupdict(), self.utc_offset)

    def labels(self, texts: pl.Series) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
        """
        Labels of many written times.

        Parameters
        ----------
        texts : pl.Series of str, shape (row,)
            Time columns joined by one blank; null where a column is missing.

        Returns
        -------
        labels : ndarray of int64, shape (row,)
            As `label` gives them; undefined where not ``read``. [s]
        read : ndarray of bool, shape (row,)
            False where this way could not read the text; `label` then decides.
        """
        labels, read = _fixed_labels(texts, self.templates)
        if not left_to_the_rule(read):
            left = np.flatnonzero(~read)
            labels[left], read[left] = _matched_labels(
                texts.gather(left), self.pattern, self.utc_offset
            )
        return labels, read

    def leading_labels(
        self,
        buffer: NDArray[np.uint8],
        starts: NDArray[np.int64],
        ends: NDArray[np.int64],
        separator: int,
    ) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
        """
        Labels of many lines that begin with a written time of fixed width.

        Parameters
        ----------
        buffer : ndarray of uint8, shape (byte,)
            The lines.
        starts, ends : ndarray of int64, shape (row,)
            Place of the first byte and of the line end of each.
        separator : int
            Byte that has to follow the time.

        Returns
        -------
        labels, read : ndarray, shape (row,)
            As :meth:`labels` gives them.
        """
        labels, read = np.zeros(len(starts), np.int64), np.zeros(len(starts), bool)
        for template in self.templates:
            width = len(template)
            rows = np.flatnonzero(~read & (ends - starts > width))
            if len(rows):
                windows = np.lib.stride_tricks.sliding_window_view(buffer, width + 1)
                table = windows[starts[rows]]
                found, good = _labels_of_bytes(table, template)
                good &= table[:, width] == separator
                labels[rows], read[rows] = found, good
        return labels, read


def left_to_the_rule(read: NDArray[np.bool_]) -> bool:
    """
    Whether so few texts are left that each may be judged by itself.

    Parameters
    ----------
    read : ndarray of bool, shape (row,)
        False where a text could not be read.

    Returns
    -------
    few : bool
        A hundred, or one in a hundred.
    """
    return len(read) - int(np.count_nonzero(read)) <= max(100, len(read) // 100)


def compile_format(stamp: TimeStamp, utc_offset: int) -> StampFormat:
    """
    Compile a layout's time format.

    Parameters
    ----------
    stamp : TimeStamp
        Columns and format as written in the station's configuration.
    utc_offset : int
        Offset of the logger's zone. [s]

    Returns
    -------
    format : StampFormat
        Ready to read labels.

    Raises
    ------
    ValueError
        If the format holds a directive that is not known, or one twice.
    """
    if stamp.format in _WORDS:
        fixed = _ISO_TEMPLATES if stamp.format == "iso8601" else ()
        templates = tuple(_template(_tokens(t)) for t in fixed)
        return StampFormat(_WORDS[stamp.format], utc_offset, templates)
    tokens = _tokens(stamp.format)
    pattern = "".join(_pattern_of(kind, text) for kind, text in tokens)
    try:
        _compiled(pattern)
    except re.error as error:
        raise ValueError(f"time format {stamp.format!r}: {error}") from error
    simple = all(text in _WIDTHS for kind, text in tokens if kind == "directive")
    return StampFormat(pattern, utc_offset, (_template(tokens),) if simple else ())


@lru_cache(maxsize=64)
def _compiled(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern)


def _tokens(text: str) -> list[tuple[str, str]]:
    """Directives and literal characters of a format, in order."""
    found = []
    for directive, literal in re.findall(r"%(.)|([^%]|%$)", text):
        if directive and directive not in _DIRECTIVES:
            known = " ".join(f"%{d}" for d in _DIRECTIVES)
            raise ValueError(f"time format {text!r}: unknown %{directive}; allowed: {known}")
        found.append(("directive", directive) if directive else ("literal", literal))
    return found


def _pattern_of(kind: str, text: str) -> str:
    if kind == "directive":
        return _DIRECTIVES[text]
    return " +" if text == " " else re.escape(text)


def _template(tokens: list[tuple[str, str]]) -> tuple[str, ...]:
    """Directive (as `%Y`) or literal of every position of the zero-padded writing."""
    places: list[str] = []
    for kind, text in tokens:
        places += [f"%{text}"] * _WIDTHS.get(text, 1) if kind == "directive" else [text]
    return tuple(places)


# --- one by one -------------------------------------------------------------------------------


def _one_label(parts: Mapping[str, str | None], utc_offset: int) -> int | None:
    """Label from the parts of one matched text, None where they are no time of the calendar."""
    if "s" in parts:
        return int(parts["s"] or 0)
    number = {k: int(v) for k, v in parts.items() if v is not None and v.isdigit()}
    day, second = _day_number(number, parts.get("b")), _second_of_day(number, parts.get("p"))
    if day is None or second is None:
        return None
    shift = _zone_shift(parts.get("z"), utc_offset)
    return None if shift is None else day * DAY + second + shift


def _day_number(number: Mapping[str, int], month_word: str | None) -> int | None:
    """Days since 1970-01-01, None when there is no such day."""
    year = number["Y"] if "Y" in number else _century(number["y"])
    month = number.get("m", 1)
    if month_word is not None:
        month = MONTHS.index(month_word.lower()) + 1 if month_word.lower() in MONTHS else 0
    try:
        first = date(year, month, 1 if "j" in number else number.get("d", 1))
    except ValueError:
        return None
    last = date(year, 12, 31).timetuple().tm_yday
    if "j" in number and not 1 <= number["j"] <= last:
        return None
    return first.toordinal() - _EPOCH_DAY + number.get("j", 1) - 1


def _century(short: int) -> int:
    # POSIX: 69-99 belong to the twentieth century, 00-68 to the twenty-first.
    return short + (1900 if short >= 69 else 2000)


def _second_of_day(number: Mapping[str, int], half: str | None) -> int | None:
    """Seconds since midnight; 24:00 is the end of the day. None when there is no such time."""
    hour, minute, second = number.get("H", 0), number.get("M", 0), number.get("S", 0)
    if "c" in number:
        hour, minute = divmod(number["c"], 100)
    if "I" in number:
        if not 1 <= number["I"] <= 12:
            return None
        hour = number["I"] % 12 + (12 if half in ("p", "P") else 0)
    whole = hour * 3600 + minute * 60 + second
    return whole if minute < 60 and second < 60 and whole <= DAY else None


def _zone_shift(zone: str | None, utc_offset: int) -> int | None:
    """Seconds that bring a label from the zone written to the logger's zone."""
    if zone is None:
        return 0
    if zone == "Z":
        return utc_offset
    hours, minutes = int(zone[1:3]), int(zone[-2:])
    if hours > 14 or minutes > 59:
        return None
    written = hours * 3600 + minutes * 60
    return utc_offset + (written if zone[0] == "-" else -written)


# --- all at once ------------------------------------------------------------------------------


def _fixed_labels(
    texts: pl.Series, templates: tuple[tuple[str, ...], ...]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Labels of the texts that follow the zero-padded, fixed-width writing."""
    labels = np.zeros(len(texts), np.int64)
    read = np.zeros(len(texts), bool)
    widths = texts.str.len_bytes().fill_null(0).to_numpy()
    for template in templates:
        rows = np.flatnonzero((widths == len(template)) & ~read)
        if not len(rows):
            continue
        chosen = texts if len(rows) == len(texts) else texts.gather(rows)
        flat = np.frombuffer("".join([chosen.str.join("\n").item(), "\n"]).encode(), np.uint8)
        table = flat.reshape(len(rows), len(template) + 1)
        found, good = _labels_of_bytes(table, template)
        labels[rows], read[rows] = found, good
    return labels, read


def _labels_of_bytes(
    table: NDArray[np.uint8], template: tuple[str, ...]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Labels of fixed-width texts given as a table of bytes, shape (row, width + 1)."""
    good = np.ones(len(table), bool)
    number: dict[str, NDArray[np.int32]] = {}
    for place, what in enumerate(template):
        column = table[:, place]
        if len(what) == 1:
            good &= column == ord(what) if ord(what) < 128 else False
            continue
        digit = column - np.uint8(48)  # wraps far above 9 for anything below '0'
        good &= digit <= 9
        key = what[1]
        number[key] = number[key] * 10 + digit if key in number else digit.astype(np.int32)
    label, valid = labels_of_parts(number)
    return label, good & valid


def _matched_labels(
    texts: pl.Series, pattern: str, utc_offset: int
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Labels by one regular expression over all texts, for writings of changing width."""
    parts = texts.str.extract_groups(f"^(?:{pattern})$").struct.unnest()
    needed = [c for c in parts.columns if c not in ("S", "z")]
    matched = parts.select(pl.all_horizontal(pl.col(needed).is_not_null())).to_series().to_numpy()
    if "s" in parts.columns:
        return _integers(parts["s"]), matched
    number = {c: _integers(parts[c]) for c in parts.columns if c not in ("b", "p", "z")}
    if "b" in parts.columns:
        order = {word: i + 1 for i, word in enumerate(MONTHS)}
        words = parts["b"].str.to_lowercase()
        number["m"] = _integers(words.replace_strict(order, default=0, return_dtype=pl.Int64))
    if "p" in parts.columns:
        number["p"] = (
            (parts["p"].str.to_lowercase() == "p").fill_null(False).to_numpy().astype(np.int64)
        )
    label, valid = labels_of_parts(number)
    if "z" in parts.columns:
        shift, known = _zone_shifts(parts["z"], utc_offset)
        return label + shift, matched & valid & known
    return label, matched & valid


def _integers(column: pl.Series) -> NDArray[np.int64]:
    return np.asarray(column.cast(pl.Int64, strict=False).fill_null(0), np.int64)


def _zone_shifts(zones: pl.Series, utc_offset: int) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Shift of every written zone; there are few distinct ones, so each is judged once."""
    distinct, place = np.unique(zones.fill_null("").to_numpy().astype(str), return_inverse=True)
    shifts = [_zone_shift(zone or None, utc_offset) for zone in distinct.tolist()]
    known = np.array([shift is not None for shift in shifts])
    return np.array([shift or 0 for shift in shifts], np.int64)[place], known[place]
