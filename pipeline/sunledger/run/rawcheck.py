"""What can be said of raw files and layouts before any data file is opened: by names alone."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from sunledger.config.loading import LoadedWorkflow, StationConfig
from sunledger.config.models.base import FAR_FUTURE
from sunledger.config.record import deployment_periods
from sunledger.errors import Fault
from sunledger.run.file_index import matching_files, unmatched_files
from sunledger.run.months import month_bounds, months_touched
from sunledger.stages.timestamps import compile_format

MOST_FILES = 20
_DATE = re.compile(
    r"(?<![0-9])(?P<year>(?:19|20)[0-9]{2})[-_.]?(?P<month>0[1-9]|1[0-2])"
    r"(?:[-_.]?(?:0[1-9]|[12][0-9]|3[01]))?(?![0-9])"
)


def format_faults(stations: Sequence[StationConfig]) -> list[Fault]:
    """
    Time formats that cannot be read.

    Parameters
    ----------
    stations : sequence of StationConfig
        All stations.

    Returns
    -------
    faults : list of Fault
        At the format in `station.yaml`.
    """
    faults = []
    for config in stations:
        for name, logger in config.station.loggers.items():
            for number, layout in enumerate(logger.layouts):
                loc = ("loggers", name, "layouts", number, "time", "format")
                try:
                    compile_format(layout.time, logger.utc_offset)
                except ValueError as error:
                    place = config.place("station", *loc)
                    faults.append(Fault(*place, ".".join(map(str, loc)), str(error)))
    return faults


def file_warnings(loaded: LoadedWorkflow) -> list[Fault]:
    """
    Raw files that match no station, and times of a station without raw files.

    Parameters
    ----------
    loaded : LoadedWorkflow
        With the raw folder and every station of the workflow.

    Returns
    -------
    warnings : list of Fault
        By the names of the files alone. Of a logger whose file names do not all hold a date, only
        whether there is any file.
    """
    found = list(_strangers(loaded))
    for config in loaded.stations:
        for name, logger in config.station.loggers.items():
            files = [path for path, _, _ in matching_files(loaded.raw, logger.files)]
            place = config.place("station", "loggers", name, "files")
            if not files:
                why = f"no file in the raw folder matches (got {', '.join(logger.files)})"
                found.append(Fault(*place, f"loggers.{name}.files", why, "warning"))
                continue
            months = dated_months(files)
            if months:
                found += _pauses(place, name, months)
                found += _without_files(config, name, months)
    return found


def _strangers(loaded: LoadedWorkflow) -> Iterator[Fault]:
    names = unmatched_files(loaded.raw, [s.station for s in loaded.stations])
    for name in names[:MOST_FILES]:
        why = "matches no logger of the workflow's stations"
        yield Fault(str(loaded.raw / name), 0, "", why, "warning")
    if len(names) > MOST_FILES:
        why = f"and {len(names) - MOST_FILES} more files that match no logger"
        yield Fault(str(loaded.raw), 0, "", why, "warning")


def dated_months(files: Sequence[str]) -> list[str]:
    """
    Months that the names of files speak of.

    Parameters
    ----------
    files : sequence of str
        Paths; a date is a year and month, with or without day, as in ``main_20310402.csv``.

    Returns
    -------
    months : list of str
        In order, each once; empty unless every name holds a date.
    """
    months = set()
    for path in files:
        dates = list(_DATE.finditer(path.rpartition("/")[2])) or list(_DATE.finditer(path))
        if not dates:
            return []
        months.add(f"{dates[-1]['year']}-{dates[-1]['month']}")
    return sorted(months)


def _pauses(place: tuple[str, int], logger: str, months: list[str]) -> Iterator[Fault]:
    """Whole months between the first and the last file that no file name speaks of."""
    for before, after in pairwise(months):
        first = np.datetime64(before, "M") + 1
        last = np.datetime64(after, "M") - 1
        if last >= first:
            said = str(first) if first == last else f"{first}..{last}"
            why = f"no file of logger {logger} is named for {said}"
            yield Fault(*place, f"loggers.{logger}.files", why, "warning")


def _without_files(config: StationConfig, logger: str, months: list[str]) -> Iterator[Fault]:
    """Deployments at the logger's positions in whose months there is no file at all."""
    channels = config.station.loggers[logger].channels
    positions = {c.position for c in channels if c.kind == "signal"}
    latest = month_bounds(months[-1])[1]
    for period in deployment_periods(config.fieldlog):
        end = FAR_FUTURE if period.end is None else period.end
        if period.entry.position not in positions:
            continue
        touched = months_touched(period.start, max(min(end, latest), period.start + 1))
        if not set(touched) & set(months):
            why = (
                f"deployment {period.entry.id} at {period.entry.position}:"
                f" no file of logger {logger} is named for its months"
            )
            place = config.entry_place(period.entry.id)
            yield Fault(*place, f"entries.{period.entry.id}", why, "warning")
