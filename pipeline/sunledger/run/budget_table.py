"""The uncertainty budget of a station's quantity at given conditions, as a table for a manual."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sunledger.config.loading import StationConfig, load_model, load_station
from sunledger.config.models.base import parse_utc
from sunledger.config.models.processing import Processing
from sunledger.config.resolve import Period, resolve_period
from sunledger.errors import BudgetError
from sunledger.stages.surroundings import Surroundings
from sunledger.stages.uncertain_minutes import COVERAGE_FACTOR, SAME_FOR, Budget, budget_at

MINUTE = 60


@dataclass(frozen=True)
class Conditions:
    """
    Under which a budget is wanted.

    Parameters
    ----------
    irradiance : float
        Of the quantity. [W m-2]
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

    irradiance: float
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


def _around(period: Period, time: int, wanted: Conditions) -> Surroundings:
    cosine = max(math.cos(math.radians(wanted.zenith)), 0.0)
    beam, net = wanted.beam, wanted.net_longwave
    if beam is None:
        beam = min(max(wanted.irradiance, 0.0) / cosine, 1000.0) if cosine > 0.01 else 0.0
    if net is None:
        net = period.processing.uncertainty.net_longwave
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
    one = {
        "mean": np.array([wanted.irradiance]),
        "min": np.array([wanted.irradiance]),
        "max": np.array([wanted.irradiance + wanted.change]),
        "body_temperature": np.array([wanted.temperature + 273.15]),
    }
    found = budget_at(position, one, _around(period, time, wanted), period, 0)
    row = next((r for r in period.coefficients if r.position == position), None)
    if found is None or row is None:
        when = np.datetime64(time, "s")
        raise BudgetError(f"no instrument with a certificate stood at {position} on {when} UTC")
    title = (
        f"{config.station.id} {quantity}, {row.kind.replace('_', ' ')} {row.serial_number},"
        f" certificate {row.certificate}, {np.datetime64(time, 's')} UTC"
    )
    return [title, *_conditions(wanted, period), "", *_table(found, wanted.irradiance)]


def _conditions(wanted: Conditions, period: Period) -> Iterator[str]:
    net = wanted.net_longwave
    net = period.processing.uncertainty.net_longwave if net is None else net
    light = f"light changing by {wanted.change:g} W m-2" if wanted.change else "steady light"
    yield (
        f"irradiance {wanted.irradiance:g} W m-2, zenith {wanted.zenith:g} degree, body"
        f" {wanted.temperature:g} degC, net longwave {net:g} W m-2, {light}"
    )


def _table(budget: Budget, irradiance: float) -> Iterator[str]:
    components, sizes = budget
    yield (
        f"{'component':<26} {'law':<12} {'width':<31} {'u W m-2':>8}"
        f"  {'error is':<31} {'reduced by':<57} source"
    )
    for part in sorted(components, key=lambda c: -sizes[c.name]):
        width = f"{part.width:g} {part.unit}"
        yield (
            f"{part.name:<26} {part.law:<12} {width:<31} {sizes[part.name]:8.3f}"
            f"  {SAME_FOR[part.common]:<31} {part.reduced_by:<57} {part.source}"
        )
    standard = math.sqrt(sum(size**2 for size in sizes.values()))
    expanded = COVERAGE_FACTOR * standard
    share = f" = {100 * expanded / abs(irradiance):.2f} %" if irradiance else ""
    yield ""
    yield f"combined standard uncertainty {standard:.3f} W m-2"
    yield f"expanded, k = {COVERAGE_FACTOR:g}, about 95 %: {expanded:.2f} W m-2{share}"
