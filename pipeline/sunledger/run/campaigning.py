"""A comparison campaign from its file to a draft certificate; the archive is not touched."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import xarray as xr

from sunledger.archive.listing import BOOKKEEPING
from sunledger.config.campaigns import LoadedCampaign, load_campaign, trial_config
from sunledger.config.loading import StationConfig
from sunledger.config.resolve import Period
from sunledger.run.file_index import FileIndex, files_for, load_index, update_index
from sunledger.run.grids import on_grid
from sunledger.run.keys import label_window, period_with_halo
from sunledger.stages.campaign_minutes import (
    campaign_minutes,
    sensitivity_of,
    with_sensitivity,
)
from sunledger.stages.campaign_result import Result, result_of
from sunledger.stages.ingest import ingest
from sunledger.stages.streams import RawFile
from sunledger.stages.time_correct import SHORTEST_INTERVAL

ROUNDS = 2
"""Offsets and non-linearity act through the sensitivity: the second round has the one found."""


@dataclass(frozen=True)
class Compared:
    """
    A campaign with its result.

    Parameters
    ----------
    loaded : LoadedCampaign
        The campaign.
    period : Period
        Resolved from the trial configuration.
    result : Result
        Responsivity, budget, what it rests on.
    corrections : tuple of str
        That the instrument's signal went through.
    """

    loaded: LoadedCampaign
    period: Period
    result: Result
    corrections: tuple[str, ...]


def compare(path: Path) -> Compared:
    """
    Compute a campaign from its file and the raw data.

    Parameters
    ----------
    path : Path
        The campaign's file.

    Returns
    -------
    compared : Compared
        Nothing is written.

    Raises
    ------
    ConfigError
        With every fault of the configuration, before data are opened.
    CampaignError
        If too little counts.
    """
    loaded = load_campaign(path)
    campaign = loaded.campaign
    config, processing = trial_config(loaded)
    config = on_grid(config, _grid(config, campaign.position))
    interval = max(SHORTEST_INTERVAL, *(g.interval for g in config.station.loggers.values()))
    start = campaign.valid_from // interval * interval
    end = -(-campaign.until // interval) * interval
    period, _ = period_with_halo(config, processing, start, end)
    readings = _readings(loaded, config, period)
    apart = processing.time_correct.clocks_apart
    sensitivity = sensitivity_of(period, campaign.position)
    for _ in range(ROUNDS):
        period = with_sensitivity(period, campaign.position, sensitivity)
        minutes = campaign_minutes(readings, period, campaign)
        result = result_of(minutes, campaign, apart)
        sensitivity = result.responsivity
    return Compared(loaded, period, result, tuple(minutes.attrs["corrections"]))


def _grid(config: StationConfig, position: str) -> int:
    """Interval on which a position is archived. [s]"""
    logger = next(
        g
        for g in config.station.loggers.values()
        if any(c.position == position and c.kind == "signal" for c in g.channels)
    )
    return max(SHORTEST_INTERVAL, logger.interval)


def _readings(loaded: LoadedCampaign, config: StationConfig, period: Period) -> xr.Dataset:
    """Readings of all loggers of the grid, from the raw files."""
    parts = []
    for logger in period.loggers:
        window = label_window(logger, period.start, period.end)
        index = _index(loaded, config, logger.name)
        files = [RawFile(loaded.raw / f.path, f.path) for f in files_for(index, *window)]
        parts.append(ingest(files, config.station, logger.name, *window))
    return xr.merge(parts, join="exact", compat="identical", combine_attrs="drop")


def _index(loaded: LoadedCampaign, config: StationConfig, logger: str) -> FileIndex:
    """With the help of what the archive's bookkeeping knows, which is not changed."""
    name = f"index_{config.station.id}_{logger}.json"
    saved = load_index(loaded.archive / BOOKKEEPING / name)
    return update_index(loaded.raw, config.station, logger, saved)
