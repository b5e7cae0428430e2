"""What every model shares: strictness, and the types for times, offsets, names and months."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from functools import lru_cache
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, StringConstraints

_OFFSET = re.compile(r"([+-])(\d{2}):(\d{2})")


class Model(BaseModel):
    """Base of all configuration models: frozen, no unknown keys, no silent conversion."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


class EntryError(ValueError):
    """
    What a whole file's check finds wrong with one of its entries.

    Parameters
    ----------
    why : str
        What is wrong.
    *loc : str or int
        Where: keys and list indices below the model that raises it.
    """

    def __init__(self, why: str, *loc: str | int) -> None:
        super().__init__(why, *loc)
        self.why, self.loc = why, loc

    def __str__(self) -> str:
        return self.why


def parse_utc(value: object) -> int:
    """
    Seconds since 1970-01-01 UTC of a written time.

    Parameters
    ----------
    value : object
        ISO 8601 text such as ``2031-03-25``, ``2031-03-25 12:30`` or ``2031-03-25T12:30:00Z``;
        without an offset it is UTC. A number passes as seconds.

    Returns
    -------
    unix_time : int
        Seconds since 1970-01-01 UTC.

    Raises
    ------
    ValueError
        If the text is not such a time.
    """
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) > 10**7:
        return value
    if not isinstance(value, str):
        raise ValueError(f'must be a quoted UTC time such as "2031-03-25 12:30" (got {value!r})')
    return _seconds_of(value)


@lru_cache(maxsize=4096)
def _seconds_of(value: str) -> int:
    try:
        moment = datetime.fromisoformat(value.strip())
    except ValueError:
        raise ValueError(f'must be a UTC time such as "2031-03-25 12:30" (got {value!r})') from None
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=UTC)
    seconds = moment.timestamp()
    if seconds != int(seconds):
        raise ValueError(f"must be a time in whole seconds (got {value!r})")
    return int(seconds)


def parse_date(value: object) -> str:
    """
    ISO date of a written date.

    Parameters
    ----------
    value : object
        Text such as ``2031-03-25``.

    Returns
    -------
    day : str
        The same date, checked.

    Raises
    ------
    ValueError
        If the text is not a date.
    """
    try:
        return date.fromisoformat(str(value)).isoformat()
    except ValueError:
        raise ValueError(f'must be a date such as "2031-03-25" (got {value!r})') from None


def parse_offset(value: object) -> int:
    """
    Seconds that a logger's zone is ahead of UTC.

    Parameters
    ----------
    value : object
        Text such as ``+01:00`` or ``-03:30``.

    Returns
    -------
    offset : int
        Seconds, positive east. [s]

    Raises
    ------
    ValueError
        If the text is not an offset within 14 hours.
    """
    match = _OFFSET.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        if isinstance(value, int) and abs(value) <= 14 * 3600 and value % 60 == 0:
            return value
        raise ValueError(f'must be a quoted offset such as "+01:00" or "-03:30" (got {value!r})')
    sign, hours, minutes = match.groups()
    seconds = int(hours) * 3600 + int(minutes) * 60
    if int(minutes) > 59 or seconds > 14 * 3600:
        raise ValueError(f"must lie within 14 hours of UTC (got {value!r})")
    return -seconds if sign == "-" else seconds


UtcTime = Annotated[int, BeforeValidator(parse_utc)]
Day = Annotated[str, BeforeValidator(parse_date)]
UtcOffset = Annotated[int, BeforeValidator(parse_offset)]
Name = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*$")]
StationId = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9]{1,11}$")]
Month = Annotated[str, StringConstraints(pattern=r"^\d{4}-(0[1-9]|1[0-2])$")]
Text = Annotated[str, StringConstraints(min_length=1, strip_whitespace=True)]
EntryId = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]*$")]


class Contact(Model):
    """Who answers for a station or network; a role and an institution, never a person."""

    role: Text
    institution: Text
    email: Text
    url: Text


FAR_PAST = -(2**40)
"""A time before every reading, for intervals without a beginning. [s]"""
FAR_FUTURE = 2**40
"""A time after every reading, for intervals without an end. [s]"""
