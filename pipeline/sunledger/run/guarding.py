"""A unit that cannot be made or published: a failed outcome with its cause, and the run goes on."""

from __future__ import annotations

import logging
import traceback
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import TypeVar

from sunledger.errors import SunledgerError
from sunledger.run.causes import cause_of
from sunledger.run.publish import Outcome, Ready, publish
from sunledger.run.unit import Unit

log = logging.getLogger(__name__)

Result = TypeVar("Result")


def failed_before(unit: Unit, before: Sequence[Outcome]) -> Outcome | None:
    """
    Outcome of a unit that reads one that failed.

    Parameters
    ----------
    unit : Unit
        The unit.
    before : sequence of Outcome
        What became of the units it reads.

    Returns
    -------
    outcome : Outcome or None
        None where nothing failed.
    """
    failed = [o.unit for o in before if o.done == "failed"]
    why = f"not made: {', '.join(failed)} failed"
    if not failed:
        return None
    return Outcome(unit.name, "failed", error=why, cause="read one that failed")


def with_months(unit: Unit, before: Sequence[Outcome]) -> Unit:
    """
    A unit with only those months of minutes that are not empty.

    Parameters
    ----------
    unit : Unit
        The unit.
    before : sequence of Outcome
        What became of the units it reads.

    Returns
    -------
    unit : Unit
        An earlier file of a month that is empty now must not enter the year.
    """
    empty = {o.unit for o in before if o.done == "empty"}
    there = {name.rpartition(" ")[2] for name in unit.after if name not in empty}
    own, around = (tuple(m for m in ms if m in there) for ms in (unit.months, unit.around))
    return replace(unit, months=own, around=around)


def guarded(name: str, make: Callable[[], Result]) -> Result | Outcome:
    """
    Make a unit, or what belongs to it; expected errors and bugs alike become a failed outcome.

    Parameters
    ----------
    name : str
        Of the unit.
    make : callable
        Makes it.

    Returns
    -------
    made : object
        What ``make`` gives, an outcome by the name of the unit; or a failed outcome.
    """
    try:
        made = make()
        return replace(made, unit=name) if isinstance(made, Outcome) else made
    except (SunledgerError, OSError, MemoryError) as error:
        return failure(name, error)
    except Exception as error:  # a bug: named with its place, the rest goes on
        log.debug("unit %s", name, exc_info=True)
        place = traceback.extract_tb(error.__traceback__)[-1]
        where = f"{place.filename.rsplit('sunledger', 1)[-1]}:{place.lineno}"
        why = f"{type(error).__name__}: {error} ({where})"
        return Outcome(name, "failed", error=why, cause="bug")


def failure(name: str, error: BaseException) -> Outcome:
    """
    Failed outcome of a unit that raised an expected error.

    Parameters
    ----------
    name : str
        Of the unit.
    error : BaseException
        What it raised.

    Returns
    -------
    outcome : Outcome
        With the error's own words and the kind of failure.
    """
    words = str(error) or type(error).__name__
    return Outcome(name, "failed", error=words, cause=cause_of(error))


def published(ready: Ready) -> Outcome:
    """
    Bring what a unit gave into the archive.

    Parameters
    ----------
    ready : Outcome or Publication
        What making the unit gave.

    Returns
    -------
    outcome : Outcome
        Of a file that cannot be written a failed one.
    """
    if isinstance(ready, Outcome):
        return ready
    return guarded(ready.unit, partial(publish, ready))
