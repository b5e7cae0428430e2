"""Findings of each month after its minutes: made again only when what they read has changed.

They stand as JSON lines and a table in the archive, and as a table in the manifest of the minutes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from sunledger.archive.digest import json_digest, plain_data
from sunledger.archive.findings_file import (
    FindingsFile,
    findings_path,
    read_findings,
    table_bytes,
    write_findings,
)
from sunledger.archive.manifest import Manifest, read_manifest, write_manifest
from sunledger.archive.products import read_minutes
from sunledger.config.loading import StationConfig
from sunledger.config.resolve import Period, resolve_period
from sunledger.diagnosis.checks import OVER_MONTHS, VERSION, diagnosed
from sunledger.diagnosis.closure_days import Row, moments_of_rows, rows_of
from sunledger.diagnosis.findings import plain_row
from sunledger.diagnosis.last_checks import last_before, marks, since
from sunledger.diagnosis.month import DiagnosedMonth, Verdicts
from sunledger.diagnosis.of_record import dirty_since
from sunledger.diagnosis.ruled_out import checks_around
from sunledger.diagnosis.selection import Components
from sunledger.errors import ArchiveError
from sunledger.run.beside_components import beside_of
from sunledger.run.context import RunContext
from sunledger.run.making import guarded
from sunledger.run.months import month_bounds, months_touched
from sunledger.run.publish import Outcome
from sunledger.run.unit import Unit
from sunledger.stages.qc_view import clock_residual
from sunledger.vocabulary import CONDITIONS, mask_of

NEEDED = ("ghi", "dhi", "dni")
DISTURBED = mask_of(CONDITIONS, "maintenance", "tracker_homing", "review_rejected")
MONTHS_BACK = 36
"""Months that a month is compared with."""
CLOCKS_APART = 10.0
"""Residuals of compared quantities may differ by this. [s]"""


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
    start = ds["time"].values
    residuals = [clock_residual(ds, period, q) for q in NEEDED]
    apart = np.ptp(np.stack(residuals), axis=0)
    words = np.stack([ds[f"{q}_conditions"].values for q in NEEDED])
    interval = int(start[1] - start[0]) if start.size > 1 else 60
    whole, diffuse, direct = (ds[q].values.astype(np.float64) for q in NEEDED)
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


def _settings(config: StationConfig, period: Period) -> dict[str, Any]:
    """What of the record a diagnosis reads beside the minutes: that of the month itself.

    And, of clock and level, the last check before it and the first behind it; of dirt, since when.
    """
    cleanings = [
        e
        for e in config.fieldlog.in_force()
        if e.type == "cleaning" and period.start <= e.time < period.end
    ]
    site = (period.latitude, period.longitude, period.altitude)
    found = marks(config, period)
    places = sorted({p for q, p, _, _ in period.primary if q in NEEDED})
    bearing = [last_before(found, period.start)]
    bearing += [m for m in found if period.start < m.time < period.end]
    return {
        "marks": plain_data(bearing),
        "site": site,
        "checks": plain_data([*cleanings, *checks_around(config, period)]),
        "clocks": plain_data([(n, g.clock) for n, g in sorted(config.station.loggers.items())]),
        "dirty_since": [(p, dirty_since(config, p, period.start)) for p in places],
        "primary": plain_data(period.primary),
        "coefficients": plain_data([c for c in period.coefficients if c.quantity in NEEDED]),
        "inventory": plain_data(
            [(i.serial_number, i.kind, i.calibrations) for i in config.inventory.instruments]
        ),
        "skylines": plain_data(period.skylines),
    }


def earlier_verdicts(station_folder: Path, period: str) -> dict[str, Verdicts]:
    """
    What the months before say to the checks that compare months.

    Parameters
    ----------
    station_folder : Path
        Folder of the station in the archive.
    period : str
        Such as ``2031-03``.

    Returns
    -------
    earlier : dict
        Month → check → verdict, of the last ``MONTHS_BACK`` months, in order; months without a
        sound findings file are left out.
    """
    year, number = map(int, period.split("-"))
    months = (year * 12 + number - 1 - back for back in range(MONTHS_BACK, 0, -1))
    held: dict[str, Verdicts] = {}
    for month in (f"{m // 12:04}-{m % 12 + 1:02}" for m in months):
        file = _held(findings_path(station_folder, month))
        if file is None or "verdicts" not in file.header:
            continue
        verdicts = file.header["verdicts"]
        held[month] = {
            check: {f: told[f] for f in wanted if f in told}
            for check, wanted in OVER_MONTHS.items()
            if (told := verdicts.get(check))
        }
    return held


def earlier_days(station_folder: Path, start: int, end: int) -> tuple[list[Row], list[str]]:
    """
    Closure of the days of earlier months, as their findings hold it.

    Parameters
    ----------
    station_folder : Path
        Folder of the station in the archive.
    start, end : int
        From when, and up to the month that asks. [s since 1970-01-01]

    Returns
    -------
    rows : list of list of float
        In order of time; months without a sound findings file give none.
    digests : list of str
        Of what each month holds.
    """
    files = (_held(findings_path(station_folder, month)) for month in months_touched(start, end))
    headers = [file.header for file in files if file is not None and "closure" in file.header]
    rows = [row for header in headers for row in header["closure"] if start <= row[1] < end]
    return rows, [header["closure_digest"] for header in headers]


@lru_cache(maxsize=2 * MONTHS_BACK)
def _read(path: Path, changed: int) -> FindingsFile:
    """A findings file as of a time of change: each is read by the months behind it."""
    return read_findings(path)


def _held(path: Path) -> FindingsFile | None:
    try:
        return _read(path, path.stat().st_mtime_ns)
    except (ArchiveError, OSError):
        return None


def _fresh(path: Path, key: str) -> FindingsFile | None:
    """The findings file of a month, if it and its table are sound and of this key."""
    file = _held(path)
    try:
        table = path.with_suffix(".csv").read_bytes()
    except OSError:
        return None
    if file is None:
        return None
    return file if file.header.get("key") == key and table == table_bytes(file.rows) else None


def _inputs(
    context: RunContext, unit: Unit, minutes: Manifest
) -> tuple[Period, dict[str, Verdicts], list[Row], str]:
    """What a diagnosis reads beside the minutes, and its key."""
    config = context.station(unit.station)
    start, end = month_bounds(unit.period)
    period = resolve_period(config, context.processing, start, end)
    folder = context.archive / unit.station
    told = earlier_verdicts(folder, unit.period)
    begin = since(marks(config, period), period)
    days, digests = earlier_days(folder, begin, start)
    settings = _settings(config, period)
    settings |= {"told_before": plain_data(told), "days": [begin, *digests]}
    key = json_digest({"version": VERSION, "minutes": minutes.logical_digest, **settings})
    return period, told, days, key


def stale_findings(context: RunContext, units: Iterable[Unit]) -> Counter[str]:
    """
    How many months of each station have findings to be made.

    Parameters
    ----------
    context : RunContext
        The run.
    units : iterable of Unit
        Of the plan.

    Returns
    -------
    months : Counter
        Station → months, as far as they can be known before the first is made: findings that come
        out otherwise make later months of the same station stale.
    """
    return Counter(
        unit.station
        for unit, minutes in diagnosable(context, units)
        if _fresh(
            findings_path(context.archive / unit.station, unit.period),
            _inputs(context, unit, minutes)[-1],
        )
        is None
    )


def diagnose_month(context: RunContext, unit: Unit, minutes: Manifest) -> Outcome:
    """
    Make the findings of a month, unless what they read is unchanged.

    Parameters
    ----------
    context : RunContext
        The run.
    unit : Unit
        The month's minute unit.
    minutes : Manifest
        Of its file.

    Returns
    -------
    outcome : Outcome
        ``unchanged``, or ``written``.
    """
    config = context.station(unit.station)
    period, told, days, key = _inputs(context, unit, minutes)
    path = findings_path(context.archive / unit.station, unit.period)
    product = context.product_path(unit.station, unit.product, unit.period)
    file = _fresh(path, key)
    same = file is not None and file.rows == minutes.findings
    if file is None:
        ds = read_minutes(product)
        read = components_of(ds, period), beside_of(ds, period)
        before = moments_of_rows(days)
        month = DiagnosedMonth(unit.period, config, period, *read, told, before)
        file = _findings(month, {"key": key, "minutes": minutes.logical_digest})
        write_findings(path, file)
    if file.rows != minutes.findings:
        write_manifest(product, replace(minutes, findings=file.rows))
    return Outcome("", "unchanged" if same else "written", str(path))


def _findings(month: DiagnosedMonth, origin: dict[str, str]) -> FindingsFile:
    """What the findings file of a month holds."""
    found, verdicts = diagnosed(month)
    closure = rows_of(month.moments)
    header = {
        "station": month.resolved.station_id,
        "period": month.period,
        **origin,
        "verdicts": verdicts,
        "closure": closure,
        "closure_digest": json_digest(closure),
    }
    return FindingsFile(header, tuple(plain_data(plain_row(f)) for f in found))


def diagnosable(context: RunContext, units: Iterable[Unit]) -> Iterator[tuple[Unit, Manifest]]:
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
    unit, minutes : Unit, Manifest
        Months in the archive, not withdrawn, of a station that measures all three components on
        one grid.
    """
    # in order of months, for a month is compared with those before it
    for unit in sorted(units, key=lambda u: (u.station, u.period)):
        if unit.kind != "minute" or unit.logger:
            continue
        manifest = read_manifest(context.product_path(unit.station, unit.product, unit.period))
        there = manifest is not None and manifest.key == unit.key
        if manifest is None or not there or manifest.status == "withdrawn":
            continue
        if set(NEEDED) <= set(manifest.accounting.get("present", {})):
            yield unit, manifest


def diagnose(context: RunContext, units: Iterable[Unit]) -> list[Outcome]:
    """
    Make the findings of all months of a plan whose minutes are in the archive.

    Parameters
    ----------
    context : RunContext
        The run.
    units : iterable of Unit
        Of the plan.

    Returns
    -------
    outcomes : list of Outcome
        One a month; a month that fails stops no other. In order of time, since later months read
        what earlier ones found.
    """
    return [
        guarded(
            f"{unit.station} findings {unit.period}",
            lambda u=unit, m=minutes: diagnose_month(context, u, m),  # type: ignore[misc]
        )
        for unit, minutes in diagnosable(context, units)
    ]


def finding_words(context: RunContext, station: str, months: Iterable[str]) -> list[str]:
    """
    Findings of months, in words.

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
        rows = read_findings(path).rows if path.exists() else ()
        for row in rows:
            size = f"{row['size']:.3g} {row['unit']}, {row['lower']:.3g} to {row['upper']:.3g}"
            lines.append(f"  finding {row['id']}: {size}; {row['action']}")
    return lines
