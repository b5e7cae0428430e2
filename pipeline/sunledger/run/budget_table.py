"""The uncertainty budget of a station's quantity at given conditions, as a table for a manual."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.config.coefficients import Coefficients
from sunledger.config.loading import StationConfig, load_model, load_station
from sunledger.config.models.base import parse_utc
from sunledger.config.models.processing import Processing
from sunledger.config.resolve import Period, resolve_period
from sunledger.errors import BudgetError
from sunledger.stages.beside import logger_of
from sunledger.stages.budgets import lag_of
from sunledger.stages.on_record import clock_half_width, loss_on_record, tilt_on_record
from sunledger.stages.surroundings import Surroundings, net_longwave
from sunledger.stages.uncertain_minutes import COVERAGE_FACTOR, Budget, budget_at
from sunledger.vocabulary import CONDITIONS, LONGWAVE

MINUTE = 60
USUAL = {"dhi": 100.0, "swu": 160.0}
"""Shortwave under a clear sky, other than `BRIGHT`; round, from memory. [W m-2]"""
BRIGHT = 800.0


@dataclass(frozen=True)
class Conditions:
    """
    Under which a budget is wanted.

    Parameters
    ----------
    irradiance : float or None
        Of the quantity; without it what is usual under a clear sky. [W m-2]
    zenith : float
        Of the sun. [degree]
    temperature : float
        Of the body. [degC]
    net_longwave : float or None
        At the instrument; the setting of the uncertainty without it. [W m-2]
    beam : float or None
        Direct irradiance; without it all of global over the cosine, at most 1000 W m-2. [W m-2]
    at : str or None
        When, UTC; without it the newest entry of the field log.
    change : float
        Range of the irradiance within the minute. [W m-2]
    """

    irradiance: float | None = None
    zenith: float = 45.0
    temperature: float = 20.0
    net_longwave: float | None = None
    beam: float | None = None
    at: str | None = None
    change: float = 0.0


def _time(config: StationConfig, wanted: str | None) -> int:
    if wanted is None:
        return max(entry.time for entry in config.fieldlog.in_force()) // MINUTE * MINUTE
    try:
        return parse_utc(wanted) // MINUTE * MINUTE
    except ValueError as error:
        raise BudgetError(f"at {error} (got {wanted!r})") from error


def _checked(config: StationConfig, quantity: str, wanted: Conditions) -> None:
    known = tuple(dict.fromkeys(config.station.positions().values()))
    if quantity not in known:
        why = f"{config.station.id} measures no such quantity; allowed: {', '.join(known)}"
        raise BudgetError(f"{why} (got {quantity})")
    if not 0.0 <= wanted.zenith <= 180.0:
        raise BudgetError(f"zenith must be from 0 to 180 degree (got {wanted.zenith:g})")
    if wanted.change < 0.0:
        raise BudgetError(f"change must not be negative (got {wanted.change:g})")
    if not -100.0 <= wanted.temperature <= 100.0:
        raise BudgetError(f"temperature must be from -100 to 100 degC (got {wanted.temperature:g})")


def _filled(wanted: Conditions, quantity: str, settings: Processing) -> Conditions:
    """Conditions that agree with each other where some are not stated."""
    net, value, beam = wanted.net_longwave, wanted.irradiance, wanted.beam
    if net is None:
        net = settings.uncertainty.net_longwave
    emitted = -float(net_longwave(0.0, wanted.temperature + 273.15))
    if value is None:
        usual = {"lwd": emitted + net, "lwu": emitted} | USUAL
        value = round(usual.get(quantity, BRIGHT), 1)
    elif quantity == "lwd" and wanted.net_longwave is None:
        net = round(value - emitted, 1)
    if beam is None:
        cosine = max(math.cos(math.radians(wanted.zenith)), 0.0)
        beam = round(min(max(value, 0.0) / cosine, 1000.0), 1) if cosine > 0.01 else 0.0
    return replace(wanted, irradiance=value, net_longwave=net, beam=beam)


def _unapplied(period: Period, row: Coefficients) -> bool:
    """Whether a correction for temperature is configured for an instrument without thermometer."""
    asked = row.temperature_response or row.corrections.polynomial
    channels = logger_of(period, row.position).channels
    mine = (c for c in channels if c.kind == "temperature" and c.position == row.position)
    return bool(asked) and not any(c.sensor == "body_temperature" for c in mine)


def _around(time: int, wanted: Conditions) -> Surroundings:
    beam, net = wanted.beam, wanted.net_longwave
    zenith, beams, nets = (np.array([v], dtype=float) for v in (wanted.zenith, beam, net))
    return Surroundings(np.array([time]), zenith, beams, nets, MINUTE)


def budget_lines(
    folder: Path, quantity: str, wanted: Conditions, processing: Path | None = None
) -> list[str]:
    """
    A budget table.

    Parameters
    ----------
    folder : Path
        Of the station's configuration.
    quantity : str
        Such as ``ghi``.
    wanted : Conditions
        At which.
    processing : Path or None
        Settings; the defaults without it.

    Returns
    -------
    lines : list of str
        Heading, one line a component (largest first), combined and expanded uncertainty.

    Raises
    ------
    ConfigError
        If the configuration does not load.
    BudgetError
        If the station measures no such quantity, no certificate holds then, or a condition is out
        of range.
    """
    config = load_station(folder)
    settings = Processing() if processing is None else load_model(processing, Processing)
    _checked(config, quantity, wanted)
    time = _time(config, wanted.at)
    period = resolve_period(config, settings, time, time + MINUTE)
    position = next(p for q, p, *_ in period.primary if q == quantity)
    row = next((r for r in period.coefficients if r.position == position), None)
    asked = _filled(wanted, quantity, settings)
    found = None
    if row is not None:
        found = budget_at(position, _one(asked, period, row), _around(time, asked), period, 0)
    if found is None or row is None:
        when = np.datetime64(time, "s")
        raise BudgetError(f"no instrument with a certificate stood at {position} on {when} UTC")
    title = (
        f"{config.station.id} {quantity}, {row.kind.replace('_', ' ')} {row.serial_number},"
        f" certificate {row.certificate}, {np.datetime64(time, 's')} UTC"
    )
    return [title, *_conditions(asked, row), *_notes(period, row), "", *_table(found, asked)]


def _one(asked: Conditions, period: Period, row: Coefficients) -> dict[str, npt.NDArray[Any]]:
    """The value that is asked for, as the minutes have it."""
    value, unapplied = float(asked.irradiance or 0.0), _unapplied(period, row)
    bits = CONDITIONS["correction_not_applied"].mask if unapplied else 0
    return {
        "mean": np.array([value]),
        "min": np.array([value]),
        "max": np.array([value + asked.change]),
        "body_temperature": np.array([asked.temperature + 273.15]),
        "conditions": np.array([bits]),
    }


def _conditions(asked: Conditions, row: Coefficients) -> Iterator[str]:
    light = f"light changing by {asked.change:g} W m-2" if asked.change else "steady light"
    beam = f" beam {asked.beam:g} W m-2," if row.quantity == "ghi" and row.shade == "none" else ""
    sun = "" if row.quantity in LONGWAVE else f" zenith {asked.zenith:g} degree,{beam}"
    yield (
        f"irradiance {asked.irradiance:g} W m-2,{sun} body {asked.temperature:g} degC,"
        f" net longwave {asked.net_longwave:g} W m-2, {light}"
    )


def _notes(period: Period, row: Coefficients) -> Iterator[str]:
    """What the record says of clock, level and soiling, and of the corrections."""
    growth, logger = period.processing.uncertainty.clock_growth, logger_of(period, row.position)
    time = np.array([period.start])
    clock = np.max(clock_half_width(logger, time, growth))
    lag = lag_of(row)
    yield f"timing: clock of {logger.name} known to {clock:.1f} s, instrument lags {lag:.1f} s"
    loss = np.max(loss_on_record(period, row, time, MINUTE))
    level = ""
    if row.kind.endswith("pyranometer"):
        level = f"level known to {np.max(tilt_on_record(period, row.position, time)):g} degree, "
    yield f"record: {level}loss by soiling up to {loss:g} %"
    if _unapplied(period, row):
        yield (
            f"the temperature of the instrument at {row.position} is not logged: corrections that"
            " are configured do not count, the limits of the class hold"
        )


def _table(budget: Budget, asked: Conditions) -> Iterator[str]:
    components, sizes = budget
    irradiance = float(asked.irradiance or 0.0)
    yield (
        f"{'component':<26} {'law':<12} {'width':<31} {'c W m-2':>8} {'u W m-2':>8}"
        f"  {'error is':<33} {'reduced by':<57} source"
    )
    for part in sorted(components, key=lambda c: -sizes[c.name]):
        width = f"{part.width:g} {part.unit}"
        worth = sizes[part.name] / part.standard if part.standard else 0.0
        yield (
            f"{part.name:<26} {part.law:<12} {width:<31} {worth:8.3f} {sizes[part.name]:8.3f}"
            f"  {part.lasts:<33} {part.reduced_by:<57} {part.source}"
        )
    yield ""
    yield (
        "c: what one unit of the width is worth; u = c x width / divisor (normal 2, rectangular"
        " root 3, triangular root 6); degrees of freedom taken as infinite"
    )
    standard = math.sqrt(sum(size**2 for size in sizes.values()))
    expanded = COVERAGE_FACTOR * standard
    share = f" = {100 * expanded / abs(irradiance):.2f} %" if irradiance else ""
    yield ""
    yield f"combined standard uncertainty {standard:.3f} W m-2"
    yield f"expanded, k = {COVERAGE_FACTOR:g}, about 95 %: {expanded:.2f} W m-2{share}"
