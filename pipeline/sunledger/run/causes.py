"""Why a unit failed, in one of a few words that tell a person where to look."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from typing import Literal

from sunledger.errors import SunledgerError

Cause = Literal[
    "",
    "out of disk",
    "out of memory",
    "raw file vanished",
    "worker lost",
    "read one that failed",
    "system",
    "data",
    "bug",
]

_NO_ROOM = (errno.ENOSPC, errno.EDQUOT)


def cause_of(error: BaseException) -> Cause:
    """
    Why a unit failed.

    Parameters
    ----------
    error : BaseException
        What it raised; the errors it was raised from count too.

    Returns
    -------
    cause : str
        ``data`` for an expected error with its own words, ``system`` for another refusal of the
        operating system, ``bug`` for whatever nobody expected.
    """
    chain = list(_chain(error))
    if any(isinstance(e, OSError) and e.errno in _NO_ROOM for e in chain):
        return "out of disk"
    if any(isinstance(e, MemoryError) for e in chain):
        return "out of memory"
    if any(type(e).__name__ == "KilledWorker" for e in chain):
        return "worker lost"
    # a product that vanished is wrapped as an error of the archive; a raw file is opened bare
    if isinstance(error, FileNotFoundError):
        return "raw file vanished"
    if isinstance(error, SunledgerError):
        return "system" if any(isinstance(e, OSError) for e in chain) else "data"
    return "system" if isinstance(error, OSError) else "bug"


def _chain(error: BaseException) -> Iterator[BaseException]:
    seen: BaseException | None = error
    while seen is not None:
        yield seen
        seen = seen.__cause__
