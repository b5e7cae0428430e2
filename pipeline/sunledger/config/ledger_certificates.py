"""Checks on certificates.

These are rules of common field practice; they have no published source. The non-stability of the
classes and the usual sensitivities stand with their sources in `physics/iso9060.py`.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from sunledger.config.coefficients import spans_by_policy
from sunledger.config.ledger_view import (
    DAY,
    RADIOMETERS,
    Finding,
    LedgerView,
    written_time,
)
from sunledger.config.models.base import FAR_FUTURE, parse_utc
from sunledger.config.models.instruments import Calibration, Instrument, sensitivity_unit
from sunledger.config.record import DeploymentPeriod
from sunledger.physics.iso9060 import (
    PYRANOMETER_CLASSES,
    PYRHELIOMETER_CLASSES,
    SENSITIVITY_RANGES,
)

_YEAR_DAYS = 365.25
_IMPOSSIBLE = 10
"""Factor outside the usual sensitivities at which a unit, not an instrument, is at fault."""


def no_certificate_before(view: LedgerView) -> Iterator[Finding]:
    """
    Deployments that begin before the instrument's first certificate.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the deployment.
    """
    for period, instrument in view.radiometer_periods():
        spans = spans_by_policy(instrument, view.choice)
        dates = [begin for _, _, begin, _ in spans]
        if min(dates, default=FAR_FUTURE) > period.start:
            first = written_time(dates[0])[:10] if dates else "none"
            yield view.at_entry(
                period.entry,
                "instrument",
                f"{instrument.serial_number} has no certificate before"
                f" {written_time(period.start)} (first certificate: {first});"
                " until then there are voltages and no irradiance",
            )


def certificate_too_old(view: LedgerView) -> Iterator[Finding]:
    """
    Deployments during which a certificate grows older than allowed.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the deployment; as far as its end or the run's "now" is known, else at its start.
    """
    limit = view.choice.largest_certificate_age
    for period, instrument in view.radiometer_periods():
        for certificate, since in _overdue(view, period, instrument, limit * DAY):
            yield view.at_entry(
                period.entry,
                "instrument",
                f"certificate {certificate.certificate} of {instrument.serial_number}, dated"
                f" {certificate.date}, is older than {limit:g} days from {written_time(since)} on",
            )


def _overdue(
    view: LedgerView, period: DeploymentPeriod, instrument: Instrument, limit: float
) -> Iterator[tuple[Calibration, float]]:
    """Certificates in force beyond the limit within a deployment, and from when."""
    last = view.last_instant(period)
    until = period.start + 1 if last is None else last
    for certificate, _, begin, end in spans_by_policy(instrument, view.choice):
        since = max(period.start, max(begin, parse_utc(certificate.date)) + limit)
        if since < min(until, end):
            yield certificate, since


def sensitivity_impossible(view: LedgerView) -> Iterator[Finding]:
    """
    Sensitivities that no instrument of the kind has, which are most likely in another unit.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the certificate.
    """
    for instrument, index, field, value in _sensitivities(view):
        low, high = SENSITIVITY_RANGES[instrument.kind]
        unit = sensitivity_unit(instrument.kind)
        if not low / _IMPOSSIBLE < value < high * _IMPOSSIBLE:
            why = f"impossible for a {instrument.kind}; expected {low:g} to {high:g} {unit}"
            hint = "; is it in another unit, such as mV per kW m-2 or V?"
            got = f" (got {value:g})"
            yield view.at_instrument(
                instrument.serial_number, why + hint + got, index, f"sensitivity.{field}"
            )


def sensitivity_unusual(view: LedgerView) -> Iterator[Finding]:
    """
    Sensitivities outside what instruments of the kind usually have.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the certificate.
    """
    for instrument, index, field, value in _sensitivities(view):
        low, high = SENSITIVITY_RANGES[instrument.kind]
        unit = sensitivity_unit(instrument.kind)
        possible = low / _IMPOSSIBLE < value < high * _IMPOSSIBLE
        if possible and not low <= value <= high:
            why = f"unusual for a {instrument.kind}; expected {low:g} to {high:g} {unit}"
            yield view.at_instrument(
                instrument.serial_number,
                f"{why}; compare with the certificate (got {value:g})",
                index,
                f"sensitivity.{field}",
            )


def _sensitivities(view: LedgerView) -> Iterator[tuple[Instrument, int, str, float]]:
    for instrument in view.config.inventory.instruments:
        if instrument.kind not in RADIOMETERS:
            continue
        for index, calibration in enumerate(instrument.calibrations):
            for field in ("as_found", "as_left"):
                value = getattr(calibration.sensitivity, field)
                if value is not None:
                    yield instrument, index, field, value


def recalibration_moved(view: LedgerView) -> Iterator[Finding]:
    """
    Recalibrations that moved the sensitivity by more than the class's non-stability.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the later certificate. A certificate without as-found value counts with its as-left
        one; across a break nothing is compared; less than a year counts as a year.
    """
    for instrument in view.config.inventory.instruments:
        rate = _non_stability(instrument, view.settings.unclassed_non_stability)
        for index, (first, second) in enumerate(pairwise(instrument.calibrations), start=1):
            if any(first.date <= b.date <= second.date for b in instrument.breaks):
                continue
            before = first.sensitivity.as_left
            field = "as_left" if second.sensitivity.as_found is None else "as_found"
            change = 100 * (getattr(second.sensitivity, field) / before - 1)
            years = (parse_utc(second.date) - parse_utc(first.date)) / DAY / _YEAR_DAYS
            if abs(change) > rate * max(1.0, years):
                yield view.at_instrument(
                    instrument.serial_number,
                    f"moved by {change:+.2f} % in {years:.1f} years since"
                    f" {first.certificate}; its class allows {rate:g} % a year;"
                    " find the cause, and enter a break if it was repaired or adjusted",
                    index,
                    f"sensitivity.{field}",
                )


def _non_stability(instrument: Instrument, unclassed: float) -> float:
    """Change of the sensitivity that the class allows. [percent a year]"""
    pyranometer = instrument.kind.endswith("pyranometer")
    table = PYRANOMETER_CLASSES if pyranometer else PYRHELIOMETER_CLASSES
    known = instrument.iso_class in table and instrument.kind != "pyrgeometer"
    return table[str(instrument.iso_class)].non_stability if known else unclassed
