"""What the minutes of a month say by themselves: computed once, kept, and read by its series.

Kept numbers lie in the archive's bookkeeping under the digest of all that they were made of. What
is missing or damaged is made anew, so all of them may be deleted at any time.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from sunledger.archive.digest import parsed_digest, plain_data
from sunledger.archive.findings_file import findings_path, findings_told
from sunledger.archive.listing import BOOKKEEPING
from sunledger.archive.manifest import read_manifest
from sunledger.archive.minute_series import minutes_in, read_minutes
from sunledger.archive.specification import FileSpec
from sunledger.config.loading import StationConfig
from sunledger.config.models.instruments import Inventory
from sunledger.config.models.station import Station
from sunledger.config.remembering import remembered
from sunledger.config.resolve import Period, resolve_period
from sunledger.diagnosis.checks import VERSION
from sunledger.diagnosis.month import DiagnosedMonth
from sunledger.diagnosis.numbers import MonthNumbers, numbers_of, restored_numbers
from sunledger.diagnosis.of_record import dirty_since
from sunledger.diagnosis.ruled_out import checks_around
from sunledger.diagnosis.selection import Components
from sunledger.run.beside_components import beside_of, names_beside
from sunledger.run.context import RunContext
from sunledger.run.months import month_bounds
from sunledger.run.pieces import load_piece, save_piece
from sunledger.run.stored import Stored, stored_of
from sunledger.run.unit import Unit
from sunledger.stages.qc_view import clock_residual
from sunledger.vocabulary import CONDITIONS, mask_of

NEEDED = ("ghi", "dhi", "dni")
DISTURBED = mask_of(CONDITIONS, "maintenance", "tracker_homing", "review_rejected")
CLOCKS_APART = 10.0
"""Residuals of compared quantities may differ by this. [s]"""


@dataclass(frozen=True)
class Minutes:
    """
    A month of minutes in the archive that can be judged.

    Parameters
    ----------
    station : str
        Identifier of the station.
    period : str
        Such as ``2031-03``.
    product : str
        Such as ``minute``.
    digest : str
        Logical digest of the file.
    findings : tuple of dict or None
        As its manifest holds them.
    """

    station: str
    period: str
    product: str
    digest: str
    findings: tuple[Any, ...] | None = None


def names_of_components(period: Period) -> set[str]:
    """
    Series that :func:`components_of` reads.

    Parameters
    ----------
    period : Period
        Resolved configuration of the month.

    Returns
    -------
    names : set of str
        Of archived minutes.
    """
    residuals = {f"clock_residual_{logger.name}" for logger in period.loggers}
    return residuals | {f"{q}{ending}" for q in NEEDED for ending in ("", "_conditions")}


def components_of(ds: xr.Dataset, period: Period) -> Components:
    """
    The three components of archived minutes, side by side at their true times.

    Parameters
    ----------
    ds : xarray.Dataset
        Archived minutes.
    period : Period
        Resolved configuration of the month.

    Returns
    -------
    parts : Components
        Minutes in which the platform was disturbed, a reviewer rejected a value, or the clocks are
        apart, are not usable.
    """
    held = ds.variables
    start = held["time"].values
    residuals = [clock_residual(ds, period, q) for q in NEEDED]
    apart = np.ptp(np.stack(residuals), axis=0)
    words = np.stack([held[f"{q}_conditions"].values for q in NEEDED])
    interval = int(start[1] - start[0]) if start.size > 1 else 60
    whole, diffuse, direct = (held[q].values.astype(np.float64) for q in NEEDED)
    middle = np.asarray(start + interval / 2 + np.nan_to_num(residuals[0]), np.float64)
    return Components(
        middle,
        interval,
        whole,
        diffuse,
        direct,
        (apart <= CLOCKS_APART) & ~((words & DISTURBED) != 0).any(axis=0),
        period.latitude,
        period.longitude,
        period.altitude,
    )


def record_read(config: StationConfig, period: Period) -> dict[str, Any]:
    """
    What of the record a month's checks read beside the minutes.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    period : Period
        Resolved configuration of the month.

    Returns
    -------
    record : dict
        Plain data: entries of the month itself and, of clock and level, the last check before it
        and the first behind it; of dirt, since when.
    """
    cleanings = [
        e
        for e in config.fieldlog.in_force()
        if e.type == "cleaning" and period.start <= e.time < period.end
    ]
    places = sorted({p for q, p, _, _ in period.primary if q in NEEDED})
    return {
        "site": [period.latitude, period.longitude, period.altitude],
        "checks": plain_data([*cleanings, *checks_around(config, period)]),
        # asked only of what a cleaning of the month ended
        "dirty_since": [(p, dirty_since(config, p, period.start)) for p in places if cleanings],
        "clocks": _plain_clocks(config.station),
        "primary": plain_data(period.primary),
        "coefficients": plain_data([c for c in period.coefficients if c.quantity in NEEDED]),
        "inventory": _plain_inventory(config.inventory),
        "skylines": plain_data(period.skylines),
    }


@remembered(64)
def _plain_clocks(station: Station) -> Any:
    return plain_data([(n, g.clock) for n, g in sorted(station.loggers.items())])


@remembered(64)
def _plain_inventory(inventory: Inventory) -> str:
    """Its digest: it is the same in every month."""
    rows = [(i.serial_number, i.kind, i.calibrations) for i in inventory.instruments]
    return parsed_digest(plain_data(rows))


def resolved_month(context: RunContext, minutes: Minutes) -> Period:
    """
    Resolved configuration of a month.

    Parameters
    ----------
    context : RunContext
        The run.
    minutes : Minutes
        Of the month.

    Returns
    -------
    period : Period
        Without a halo.
    """
    config = context.station(minutes.station)
    return resolve_period(config, context.processing, *month_bounds(minutes.period))


def numbers_key(context: RunContext, minutes: Minutes, period: Period) -> str:
    """
    What the numbers of a month rest on.

    Parameters
    ----------
    context : RunContext
        The run.
    minutes : Minutes
        Of the month.
    period : Period
        From :func:`resolved_month`.

    Returns
    -------
    key : str
        Digest of minutes and record.
    """
    record = record_read(context.station(minutes.station), period)
    return parsed_digest({"version": VERSION, "minutes": minutes.digest, **record})


def _kept_path(context: RunContext, minutes: Minutes) -> Path:
    folder = context.archive / BOOKKEEPING / "numbers" / minutes.station
    return folder / f"{minutes.period}.piece"


def kept_numbers(context: RunContext, minutes: Minutes, key: str) -> MonthNumbers | None:
    """
    Numbers of a month that were kept.

    Parameters
    ----------
    context : RunContext
        The run.
    minutes : Minutes
        Of the month.
    key : str
        From :func:`numbers_key`.

    Returns
    -------
    numbers : MonthNumbers or None
        None where there are none under this key.
    """
    piece = load_piece(_kept_path(context, minutes))
    if piece is None or piece[1]["key"] != key:
        return None
    return restored_numbers(*piece)


def make_numbers(
    context: RunContext, minutes: Minutes, period: Period, key: str, ds: xr.Dataset | None = None
) -> MonthNumbers:
    """
    Compute the numbers of a month from its minutes, and keep them.

    Parameters
    ----------
    context : RunContext
        The run.
    minutes : Minutes
        Of the month.
    period, key : Period, str
        From :func:`resolved_month` and :func:`numbers_key`.
    ds : xarray.Dataset or None
        The minutes, if they are still in memory.

    Returns
    -------
    numbers : MonthNumbers
        As :func:`kept_numbers` will give them from now on.
    """
    config = context.station(minutes.station)
    if ds is None:
        path = context.product_path(minutes.station, minutes.product, minutes.period)
        ds = read_minutes(path, only=sorted(names_of_components(period) | names_beside()))
    read = components_of(ds, period), beside_of(ds, period)
    arrays, plain = numbers_of(DiagnosedMonth(minutes.period, config, period, *read))
    save_piece(_kept_path(context, minutes), arrays, plain | {"key": key})
    return restored_numbers(arrays, plain)


def prepare_numbers(context: RunContext, unit: Unit, file: FileSpec | None = None) -> None:
    """
    Compute the numbers of a month whose minutes were just made, unless they are there.

    Parameters
    ----------
    context : RunContext
        The run.
    unit : Unit
        Any; only a month of minutes that can be diagnosed has numbers.
    file : FileSpec or None
        What was written, while it is still in memory.
    """
    for minutes in diagnosable(context, (unit,)):
        period = resolved_month(context, minutes)
        key = numbers_key(context, minutes, period)
        if kept_numbers(context, minutes, key) is None:
            ds = None if file is None else minutes_in(file)
            make_numbers(context, minutes, period, key, ds)


def diagnosable(context: RunContext, units: Iterable[Unit]) -> Iterator[Minutes]:
    """
    Months of minutes that can be diagnosed.

    Parameters
    ----------
    context : RunContext
        The run.
    units : iterable of Unit
        Of the plan.

    Yields
    ------
    minutes : Minutes
        Months in the archive, not withdrawn, of a station that measures all three components on
        one grid; by station, in order of time.
    """
    for unit in sorted(units, key=lambda u: (u.station, u.period)):
        if unit.kind != "minute" or unit.logger:
            continue
        stored = unit.stored or _stored_now(context, unit)
        if stored is None or stored.status == "withdrawn":
            continue
        if set(NEEDED) <= set(stored.accounting.get("present", {})):
            about = (unit.station, unit.period, unit.product)
            yield Minutes(*about, stored.digest, stored.findings)


def _stored_now(context: RunContext, unit: Unit) -> Stored | None:
    """What is in the archive of a unit that was stale; None where it was not made."""
    manifest = read_manifest(context.product_path(unit.station, unit.product, unit.period))
    return stored_of(manifest) if manifest is not None and manifest.key == unit.key else None


def finding_words(context: RunContext, station: str, months: Iterable[str]) -> list[str]:
    """
    Findings of months that were judged in this run, in words.

    Parameters
    ----------
    context : RunContext
        The run.
    station : str
        Identifier of the station.
    months : iterable of str
        Which months.

    Returns
    -------
    lines : list of str
        One a finding, in the order of the months.
    """
    lines = []
    for month in months:
        path = findings_path(context.archive / station, month)
        rows = findings_told(path) if path.exists() else ()
        for row in rows:
            size = f"{row['size']:.3g} {row['unit']}, {row['lower']:.3g} to {row['upper']:.3g}"
            lines.append(f"  finding {row['id']}: {size}; {row['action']}")
    return lines
