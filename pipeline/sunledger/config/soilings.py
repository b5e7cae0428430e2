"""How much the record allows dirt to have taken from each instrument, and when."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sunledger.config.conditions import ConditionInterval
from sunledger.config.loading import StationConfig
from sunledger.config.models.fieldlog import PositionEvent

Rows = tuple[tuple[str, int, int, float], ...]


def soilings(config: StationConfig, conditions: Iterable[ConditionInterval], usual: float) -> Rows:
    """
    Largest losses by position and time.

    Parameters
    ----------
    config : StationConfig
        Cleanings and accepted findings, which may state a bound of their own.
    conditions : iterable of ConditionInterval
        Of the period.
    usual : float
        Bound where none is stated. [percent]

    Returns
    -------
    rows : tuple of (target, from, until, bound)
        One for each interval that is recorded or accepted as soiled; the target is a position or
        ``*``. [s, percent]
    """
    stated = dict(_bounds(config))
    return tuple(
        (item.target, item.start, item.end, stated.get(item.cause, usual))
        for item in conditions
        if item.condition == "soiling_recorded"
    )


def _bounds(config: StationConfig) -> Iterator[tuple[str, float]]:
    """Identifier and stated bound of what tells of dirt."""
    for entry in config.fieldlog.in_force():
        if isinstance(entry, PositionEvent) and entry.soiling_bound is not None:
            yield entry.id, entry.soiling_bound
    for accepted in config.review.accepted_findings:
        if accepted.bound is not None:
            yield accepted.id, accepted.bound
