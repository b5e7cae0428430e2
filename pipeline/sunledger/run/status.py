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
    if unit_end(context, month) < month_bounds(month)[1]:
        return "open"
    return "provisional" if lacking_for_final(config, month) else "final"


def lacking_for_final(config: StationConfig, month: str) -> tuple[str, ...]:
    """
    What a month that has ended still lacks to be final.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    month : str
        Month of UTC.

    Returns
    -------
    lacking : tuple of str
        In words, with the instruments and loggers concerned; empty when nothing is lacking.
    """
    start, end = month_bounds(month)
    lacking = []
    serials = _without_later_certificate(config, start, end)
    if serials and month not in config.review.waived_certificates:
        lacking.append(
            f"a certificate dated after the month for {', '.join(serials)}"
            " (or the month among waived_certificates in review.yaml)"
        )
    clocks = _without_later_check(config, end)
    if clocks:
        lacking.append(f"a clock check after the month of logger {', '.join(clocks)}")
    if month not in config.review.finished_months:
        lacking.append("a finished review (the month among finished_months in review.yaml)")
    return tuple(lacking)


def _without_later_certificate(config: StationConfig, start: int, end: int) -> list[str]:
    instruments, positions = config.inventory.by_serial(), config.station.positions()
    deployed = {
        p.entry.instrument
        for p in deployment_periods(config.fieldlog)
        if p.entry.position in positions
        and p.start < end
        and (FAR_FUTURE if p.end is None else p.end) > start
    }
    return sorted(
        serial
        for serial in deployed
        if not any(begin >= end for _, _, begin, _ in certificate_spans(instruments[serial]))
    )


def _without_later_check(config: StationConfig, end: int) -> list[str]:
    return [
        name
        for name, logger in config.station.loggers.items()
        if logger.clock.discipline != "time_signal"
        and not any(c.time >= end for c in clock_checks(config.fieldlog, name))
    ]
