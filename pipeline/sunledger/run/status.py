"""How far a month has come: where its minutes end, and which status its products can have."""

from __future__ import annotations

from sunledger.archive.manifest import Status
from sunledger.config.clocks import clock_checks
from sunledger.config.coefficients import certificate_spans
from sunledger.config.loading import StationConfig
from sunledger.config.models.base import FAR_FUTURE
from sunledger.config.record import deployment_periods
from sunledger.run.context import RunContext
from sunledger.run.months import month_bounds

DAY = 86400


def unit_end(context: RunContext, month: str) -> int:
    """
    End of a month's minutes: its own, or the last complete day of an open month.

    Parameters
    ----------
    context : RunContext
        With the run's "now".
    month : str
        The month.

    Returns
    -------
    end : int
        [s]
    """
    return min(month_bounds(month)[1], context.as_of // DAY * DAY)


def final_status(context: RunContext, config: StationConfig, month: str) -> Status:
    """
    Status that a month's products can have.

    Parameters
    ----------
    context : RunContext
        With the run's "now".
    config : StationConfig
        The station's files.
    month : str
        Month of UTC.

    Returns
    -------
    status : str
        ``open`` before the month has ended; ``final`` with a certificate after it for every
        instrument or the station's waiver, a clock check after it for every free clock, and a
        finished review; else ``provisional``.
    """
    start, end = month_bounds(month)
    if unit_end(context, month) < end:
        return "open"
    instruments = config.inventory.by_serial()
    deployed = [
        p.entry.instrument
        for p in deployment_periods(config.fieldlog)
        if p.start < end and (FAR_FUTURE if p.end is None else p.end) > start
    ]
    bracketed = all(
        any(begin >= end for _, _, begin, _ in certificate_spans(instruments[serial]))
        for serial in deployed
    )
    clocks = all(
        logger.clock.discipline == "time_signal"
        or any(c.time >= end for c in clock_checks(config.fieldlog, name))
        for name, logger in config.station.loggers.items()
    )
    reviewed = month in config.review.finished_months
    certified = bracketed or month in config.review.waived_certificates
    return "final" if reviewed and certified and clocks else "provisional"
