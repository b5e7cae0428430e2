"""Words and history of a station that its files repeat, as part of what a unit reads."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sunledger.archive.digest import json_digest, plain_data
from sunledger.archive.history import history_rows
from sunledger.config.conditions import ConditionInterval, condition_intervals
from sunledger.config.loading import StationConfig
from sunledger.config.models.processing import CalibrateSettings, Processing
from sunledger.config.models.station import Station
from sunledger.config.models.workflow import Network
from sunledger.config.remembering import remembered
from sunledger.config.resolve import Period
from sunledger.run.context import RunContext
from sunledger.run.months import month_bounds


def metadata_digest(context: RunContext, config: StationConfig) -> str:
    """
    Digest of the descriptive words that every file of a station repeats.

    Parameters
    ----------
    context : RunContext
        With the network.
    config : StationConfig
        The station's files.

    Returns
    -------
    digest : str
        Changes with names, contacts, licence, description, but with no setting.
    """
    return _words_digest(context.network, config.station)


@remembered(64)
def _words_digest(network: Network, station: Station) -> str:
    plain = plain_data(station)
    apart = ("loggers", "primary", "local_standard_time")
    words = {k: v for k, v in plain.items() if k not in apart}
    return json_digest({"network": plain_data(network), "station": words})


def _no_nan(value: Any) -> Any:
    return None if isinstance(value, float) and value != value else value


def history_settings(
    config: StationConfig, resolved: Period, start: int, end: int
) -> dict[str, Any]:
    """
    Rows of the history tables as part of what a unit reads.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    resolved : Period
        Resolved configuration.
    start, end : int
        Period of the file. [s]

    Returns
    -------
    rows : dict of list
        Missing numbers as None; shared by all callers.
    """
    chosen = resolved.processing.calibrate
    return _rows(config, chosen, start, end, _in_order(resolved.conditions))


def _in_order(conditions: Iterable[ConditionInterval]) -> str:
    """Entries behind conditions, one a line, so that they are compared by value."""
    return "\n".join(sorted({item.cause for item in conditions}))


@remembered(1024)
def _rows(
    config: StationConfig, chosen: CalibrateSettings, start: int, end: int, causes: str
) -> dict[str, Any]:
    """The same for the voltages of a month and its minutes, where they rest on the same entries."""
    tables = history_rows(config, start, end, frozenset(causes.split("\n")), chosen)
    return {
        name: [{k: _no_nan(v) for k, v in row.items()} for row in rows]
        for name, rows in tables.items()
    }


@remembered(1024)
def history_of_month(config: StationConfig, processing: Processing, month: str) -> dict[str, Any]:
    """
    Rows of the history tables of a month, the same for all loggers.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    processing : Processing
        Settings.
    month : str
        Such as ``2031-03``.

    Returns
    -------
    rows : dict of list
        From :func:`history_settings`; shared by all callers.
    """
    start, end = month_bounds(month)
    conditions = condition_intervals(config, processing, start, end)
    return _rows(config, processing.calibrate, start, end, _in_order(conditions))
