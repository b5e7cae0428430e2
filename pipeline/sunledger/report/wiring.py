"""Which logger a quantity of a month was read by, and how it says that its supply is low."""

from __future__ import annotations

from dataclasses import dataclass

from sunledger.config.models.station import Channel
from sunledger.config.resolve import Period, ResolvedLogger
from sunledger.config.restoring import restored_period
from sunledger.errors import ArchiveError
from sunledger.report.month import StationMonth

SUPPLY = "supply_voltage"
"""Name that `station.yaml` gives the status of a logger's supply."""


@dataclass(frozen=True)
class Wiring:
    """
    How a quantity came to its file.

    Parameters
    ----------
    logger : str
        Name of the logger.
    least_supply : float or None
        Supply voltage below which the logger's power counts as failing; None where its supply is
        not watched. [V]
    """

    logger: str
    least_supply: float | None = None


def wiring_of(month: StationMonth, quantity: str) -> Wiring | None:
    """
    Logger of a quantity, as its minute file was made.

    Parameters
    ----------
    month : StationMonth
        The month.
    quantity : str
        Such as ``ghi`` or ``air_temperature``.

    Returns
    -------
    wiring : Wiring or None
        None without a minute file, or where its configuration cannot be read back.
    """
    if month.minute is None:
        return None
    try:
        period = restored_period(month.minute.manifest.resolved_configuration)
    except ArchiveError:
        return None
    position = _position(period, quantity)
    for logger in period.loggers:
        if any(_gives(c, quantity, position) for c in logger.channels):
            return Wiring(logger.name, _least_supply(logger))
    return None


def _position(period: Period, quantity: str) -> str | None:
    """Position that the plain name holds; the first of the month where it changed."""
    return next((p for q, p, _, _ in period.primary if q == quantity), None)


def _gives(channel: Channel, quantity: str, position: str | None) -> bool:
    if channel.kind == "air":
        return channel.quantity == quantity
    return channel.kind == "signal" and channel.position == position


def _least_supply(logger: ResolvedLogger) -> float | None:
    return next((c.least for c in logger.channels if c.status == SUPPLY), None)
