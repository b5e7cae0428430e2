"""The plan of a run: every product of the months asked for, whether it is stale, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import islice

from sunledger.archive.digest import plain_data
from sunledger.archive.manifest import Manifest, read_manifest
from sunledger.config.loading import StationConfig
from sunledger.run.context import RunContext
from sunledger.run.file_index import FileIndex
from sunledger.run.keys import (
    differences,
)
from sunledger.run.months import month_bounds, months_touched
from sunledger.run.unit import Unit, aggregate_unit, minute_unit, unit_end, voltage_unit

DAY = 86400
AGGREGATES = ("hourly", "daily", "monthly")
MOST_REASONS = 5


@dataclass(frozen=True)
class Plan:
    """
    What a run will make.

    Parameters
    ----------
    units : tuple of Unit
        Fresh and stale, each after those it reads.
    empty : tuple of str
        Names of the months asked for without a raw file.
    """

    units: tuple[Unit, ...]
    empty: tuple[str, ...] = ()

    def stale(self) -> tuple[Unit, ...]:
        """
        Units that have to be made.

        Returns
        -------
        units : tuple of Unit
            In order.
        """
        return tuple(u for u in self.units if u.stale)


def _reasons(before: Manifest | None, unit: Unit) -> tuple[str, ...]:
    """Say in plain words why a unit is stale; nothing when it is fresh."""
    if before is None:
        return ("no such file yet",)
    if before.key == unit.key:
        return ()
    old = {i.name: i.sha256 for i in before.inputs}
    new = {name: sha256 for name, sha256, _ in unit.sources}
    words = [f"raw file {n}: new" for n in sorted(new.keys() - old.keys())]
    words += [f"raw file {n}: gone" for n in sorted(old.keys() - new.keys())]
    words += [f"raw file {n}: changed" for n in sorted(old.keys() & new.keys()) if old[n] != new[n]]
    words += differences(before.resolved_configuration, plain_data(unit.settings))
    if len(words) > MOST_REASONS:
        rest = len(words) - MOST_REASONS
        words = [*islice(words, MOST_REASONS), f"and {rest} more"]
    return tuple(words) or ("another version of a stage, or of the station's description",)


def _judged(context: RunContext, unit: Unit) -> Unit:
    path = context.product_path(unit.station, unit.product, unit.period, unit.logger)
    before = read_manifest(path) if path.exists() else None
    reasons = _reasons(before, unit)
    return replace(unit, stale=bool(reasons), reasons=reasons)


def _known_months(
    context: RunContext, config: StationConfig, indexes: Mapping[str, FileIndex]
) -> list[str]:
    """Months of UTC that the labels of the raw files can touch."""
    months: set[str] = set()
    for name, index in indexes.items():
        offset = config.station.loggers[name].utc_offset
        for file in index.files:
            if file.first_label is not None and file.last_label is not None:
                touched = months_touched(file.first_label - offset, file.last_label - offset)
                months.update(touched)
    return sorted(m for m in months if unit_end(context, m) > month_bounds(m)[0])


def _neighbourhood(month: str) -> list[str]:
    start, end = month_bounds(month)
    return months_touched(start - 31 * DAY, end + 31 * DAY)


def station_plan(
    context: RunContext,
    config: StationConfig,
    indexes: Mapping[str, FileIndex],
    months: list[str] | None,
) -> Plan:
    """
    Plan of one station.

    Parameters
    ----------
    context : RunContext
        The run.
    config : StationConfig
        The station's files.
    indexes : dict of FileIndex
        Logger → raw files.
    months : list of str or None
        Months of UTC asked for; None for all with raw data.

    Returns
    -------
    plan : Plan
        Voltage, minute and aggregate units, as far as the workflow's stages go.
    """
    known = _known_months(context, config, indexes)
    wanted = known if months is None else months
    station = config.station.id
    label_months = sorted({m for month in wanted for m in _neighbourhood(month)})
    voltages = {
        (logger, month): unit
        for logger in config.station.loggers
        for month in label_months
        if (unit := voltage_unit(context, config, logger, month, indexes[logger])) is not None
    }
    units: list[Unit] = list(voltages.values())
    closed: dict[str, list[Unit]] = {}
    made = {
        m: minute_unit(context, config, m, indexes, voltages) for m in sorted({*known, *wanted})
    }
    # Stages run in order, so a workflow that stops before the flags makes no minutes.
    if "qc_flag" in context.stages:
        units += [u for m, u in made.items() if u is not None and m in wanted]
        for month, unit in made.items():
            if unit is not None and unit_end(context, month) == month_bounds(month)[1]:
                closed.setdefault(month[:4], []).append(unit)
    if "aggregate" in context.stages:
        years = sorted({m[:4] for m in wanted} & closed.keys())
        units += [
            aggregate_unit(
                context, config, product, year, _available(context, closed[year], wanted)
            )
            for year in years
            for product in AGGREGATES
        ]
    units = [u for u in units if u.kind != "aggregate" or u.months]
    empty = tuple(f"{station} {m}" for m in wanted if made.get(m) is None)
    return Plan(tuple(_judged(context, unit) for unit in units), empty)


def _available(context: RunContext, units: list[Unit], wanted: list[str]) -> list[Unit]:
    """Months of a year file: those of this run, and those that the archive already has."""
    return [
        u
        for u in units
        if u.period in wanted or context.product_path(u.station, "minute", u.period).exists()
    ]
