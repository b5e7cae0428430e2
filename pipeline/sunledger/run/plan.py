"""The plan of a run: every product of the months asked for, whether it is stale, and why."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from itertools import islice
from pathlib import Path

from sunledger.archive.digest import plain_data
from sunledger.archive.manifest import Manifest, read_manifest
from sunledger.config.loading import StationConfig
from sunledger.run.clocks import (
    PARTS,
    clock_words,
    closed_until,
    months_held,
    months_read,
    time_base,
    window,
)
from sunledger.run.context import RunContext
from sunledger.run.days import with_days
from sunledger.run.described import metadata_digest
from sunledger.run.file_index import FileIndex, IndexedFile
from sunledger.run.grids import grid_intervals, grid_product, on_grid
from sunledger.run.keys import differences
from sunledger.run.labels import odd_months
from sunledger.run.months import month_bounds, months_touched
from sunledger.run.status import unit_end
from sunledger.run.stored import stored_of
from sunledger.run.unit import (
    Unit,
    aggregate_settings,
    aggregate_unit,
    minute_unit,
    unit_name,
    voltage_unit,
)

DAY = 86400
NO_FILE_YET = "no such file yet"
MOST_REASONS = 5
Manifests = Callable[[Path], Manifest | None]


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
    remarks : tuple of str
        Months of which no day is complete, and published files without raw data, in words.
    gone : tuple of (str, str)
        Stations and months whose minutes are published though no raw file bears on them any more.
    """

    units: tuple[Unit, ...]
    empty: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    gone: tuple[tuple[str, str], ...] = ()

    def stale(self) -> tuple[Unit, ...]:
        """
        Units that have to be made.

        Returns
        -------
        units : tuple of Unit
            In order.
        """
        return tuple(u for u in self.units if u.stale)


def _reasons(before: Manifest, unit: Unit) -> tuple[str, ...]:
    """Say in plain words why a unit is stale; nothing when it is fresh."""
    if before.key == unit.key:
        return ()
    words = _words(before, unit)
    if len(words) > MOST_REASONS:
        rest = len(words) - MOST_REASONS
        words = [*islice(words, MOST_REASONS), f"and {rest} more"]
    return tuple(words) or ("another version of a stage, or of the station's description",)


def _words(before: Manifest, unit: Unit) -> list[str]:
    """All differences; what only follows from a longer time is no cause of its own."""
    held, now = before.resolved_configuration, plain_data(unit.settings)
    months = held.get("months", {}), now.get("months", {})
    if months[0].keys() != months[1].keys():
        rule = held.get("aggregate"), now.get("aggregate")
        return [*_month_words(*months), *differences(*rule, "aggregate")]
    status = held.get("status"), now.get("status")
    words = [*_month_words(*months), *_source_words(before, unit), *differences(*status, "status")]
    if "open" in status and status[0] != status[1]:
        return words
    old, new = ({k: s[k] for k in s if k not in ("months", "status")} for s in (held, now))
    return [*words, *differences(old, new)]


def _month_words(old: Mapping[str, str], new: Mapping[str, str]) -> list[str]:
    words = [f"minutes of {m}: new" for m in sorted(new.keys() - old.keys())]
    words += [f"minutes of {m}: gone" for m in sorted(old.keys() - new.keys())]
    words += [f"minutes of {m}: changed" for m in sorted(old.keys() & new) if old[m] != new[m]]
    return words


def _source_words(before: Manifest, unit: Unit) -> list[str]:
    old = {i.name: i.sha256 for i in before.inputs}
    new = {name: sha256 for name, sha256, _ in unit.sources}
    words = [f"raw file {n}: new" for n in sorted(new.keys() - old.keys())]
    words += [f"raw file {n}: gone" for n in sorted(old.keys() - new.keys())]
    words += [f"raw file {n}: changed" for n in sorted(old.keys() & new.keys()) if old[n] != new[n]]
    return words


def _judged(context: RunContext, unit: Unit, manifest: Manifests) -> Unit:
    path = context.product_path(unit.station, unit.product, unit.period, unit.logger)
    before = manifest(path)
    if not path.exists():
        reasons: tuple[str, ...] = (NO_FILE_YET,)
    elif before is None:
        reasons = ("its manifest is missing or damaged",)
    else:
        reasons = _reasons(before, unit)
    stored = None if reasons or before is None else stored_of(before)
    return replace(unit, stale=bool(reasons), reasons=reasons, stored=stored)


def _labelled_months(config: StationConfig, indexes: Mapping[str, FileIndex]) -> set[str]:
    """Months of UTC that the labels of the raw files can touch."""
    months: set[str] = set()
    for name, index in indexes.items():
        logger = config.station.loggers[name]
        shift = logger.utc_offset + (logger.interval if logger.label == "end" else 0)
        odd = {m for m, why in odd_months(index, config.station).items() if why != "detached"}
        for file in index.files:
            months.update(_months_of_file(file, shift, odd))
    return months


def _months_of_file(file: IndexedFile, shift: int, odd: set[str]) -> Iterator[str]:
    """Months of UTC that the labels of a file touch; a stray label must not claim all between."""
    for first, last in (span for month, span in file.spans.items() if month not in odd):
        yield from months_touched(first - shift, last - shift + 1)


def _kept_aside(config: StationConfig, indexes: Mapping[str, FileIndex]) -> set[str]:
    """Months of labels that are archived as logged, and may be of no time the station was there."""
    return {
        month
        for index in indexes.values()
        for month, why in odd_months(index, config.station).items()
        if why != "astray"
    }


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
    manifest = cache(read_manifest)  # a month's is read for itself and for its year
    labelled = _labelled_months(config, indexes)
    known = sorted(m for m in labelled if unit_end(context, m) > month_bounds(m)[0])
    wanted = known if months is None else months
    only_voltages = _kept_aside(config, indexes) if months is None else set()
    voltages = _voltages(context, config, indexes, sorted({*wanted, *only_voltages}))
    closed: dict[str, list[Unit]] = {}
    made = {
        m: _series_units(context, config, m, indexes, voltages) for m in sorted({*known, *wanted})
    }
    read = {name for m in wanted for u in made[m] for name in u.after}
    asked = {*wanted, *only_voltages}
    units = [u for u in voltages.values() if u.period in asked or u.name in read]
    # Stages run in order, so a workflow that stops before the flags makes no minutes.
    if "qc_flag" in context.stages:
        units += [u for m in made if m in wanted for u in made[m]]
        for month, series in made.items():
            if unit_end(context, month) == month_bounds(month)[1]:
                closed[month] = series
    if "aggregate" in context.stages:
        there = {m: _available(context, s, wanted, manifest) for m, s in closed.items()}
        there = {m: series for m, series in there.items() if series}
        for year in _years_touched([m for m in wanted if made[m]]):
            units += _aggregates(context, config, year, there)
    missing = [m for m in wanted if not made[m]]
    early = [m for m in missing if m in labelled and m not in known]
    station = config.station.id
    remarks = [f"{station} {m}: no day of it is complete at the run's date" for m in early]
    gone = dict(_left_over(context, config, made))
    remarks += [
        f"{name}: published, but no raw file bears on it any more"
        for name, month in gone.items()
        if months is None or month in wanted
    ]
    empty = tuple(f"{station} {m}" for m in missing if m not in early)
    judged = (_judged(context, unit, manifest) for unit in units)
    ready = tuple(with_days(context, config, unit, indexes) for unit in judged)
    return Plan(ready, empty, tuple(remarks), tuple((station, m) for m in gone.values()))


def _series_units(
    context: RunContext,
    config: StationConfig,
    month: str,
    indexes: Mapping[str, FileIndex],
    voltages: Mapping[tuple[str, str], Unit],
) -> list[Unit]:
    """Minutes, and the series of longer intervals, of a month."""
    made = (
        minute_unit(context, on_grid(config, interval), month, indexes, voltages)
        for interval in grid_intervals(config.station)
    )
    return [unit for unit in made if unit is not None]


def _voltages(
    context: RunContext,
    config: StationConfig,
    indexes: Mapping[str, FileIndex],
    wanted: list[str],
) -> dict[tuple[str, str], Unit]:
    label_months = sorted({m for month in wanted for m in _neighbourhood(month)})
    return {
        (logger, month): unit
        for logger in config.station.loggers
        for month in label_months
        if (unit := voltage_unit(context, config, logger, month, indexes[logger])) is not None
    }


def _years_touched(months: list[str]) -> list[str]:
    """Years whose files can depend on some months: by another clock, or by the minutes nearby."""
    around = (month_bounds(month) for month in months)
    near = (months_touched(start - DAY, end + DAY) for start, end in around)
    return sorted({month[:4] for some in near for month in some})


def _aggregates(
    context: RunContext, config: StationConfig, year: str, there: Mapping[str, list[Unit]]
) -> list[Unit]:
    """The files of a year by every clock; a year itself only when it is over."""
    until, metadata = closed_until(context), metadata_digest(context, config)
    station, out = config.station, []
    for clock, products in context.processing.aggregate.periods.items():
        base = time_base(PARTS[clock], station)
        held = months_held(base, year, there, station, until)
        if not held:
            continue
        over = window(base, f"{year}-12", station)[1] <= until
        read = sorted({m for month in held for m in months_read(base, month, station)})
        minutes = [unit for month in read for unit in there.get(month, ())]
        settings = aggregate_settings(context, config, minutes, held)
        if PARTS[clock]:
            settings["clock"] = clock_words(PARTS[clock], station)[1]
        out += [
            aggregate_unit((product, PARTS[clock]), year, minutes, settings, metadata)
            for product in products
            if over or product != "yearly"
        ]
    return out


def _left_over(
    context: RunContext, config: StationConfig, made: Mapping[str, list[Unit]]
) -> Iterator[tuple[str, str]]:
    """Names and months of minute files on which no raw file bears any more: they stay."""
    station = config.station.id
    for product, part in map(grid_product, grid_intervals(config.station)):
        pattern = context.product_path(station, product, "????-??", part)
        for path in sorted(pattern.parent.glob(pattern.name)):
            month = path.stem.rpartition("_")[2]
            name = unit_name(station, product, part, month)
            if name not in (unit.name for unit in made.get(month, ())):
                yield name, month


def _available(
    context: RunContext, units: list[Unit], wanted: list[str], manifest: Manifests
) -> list[Unit]:
    """Months of a year file: of this run and of the archive, but for those that were withdrawn."""
    out = []
    for unit in units:
        path = context.product_path(unit.station, unit.product, unit.period, unit.logger)
        held = manifest(path) if path.exists() else None
        withdrawn = held is not None and held.status == "withdrawn"
        if withdrawn and held is not None and (held.key == unit.key or unit.period not in wanted):
            continue  # nobody should use it, so neither do the means
        if unit.period in wanted:
            out.append(unit)
        elif held is not None and held.status != "open":
            # A month that is stale but not asked for goes in as it is: its key must say so.
            sources = tuple((i.name, i.sha256, i.size) for i in held.inputs)
            out.append(replace(unit, key=held.key, sources=sources))
    return out
