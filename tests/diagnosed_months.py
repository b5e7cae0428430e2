"""A generated month as the checks get it: with an invented record around it."""

from __future__ import annotations

from typing import Any

import numpy as np

import invented
from invented_months import Month, month_of
from sunledger.diagnosis.month import DiagnosedMonth


def month(what: Month, entries: list[dict[str, Any]] | None = None) -> DiagnosedMonth:
    """A month with an invented station at its place."""
    site = {"latitude": what.latitude, "longitude": what.longitude, "altitude": what.altitude}
    config = invented.station_config(entries=entries, **site)
    start = int(np.datetime64(what.start, "s").astype(np.int64))
    resolved = invented.period(config, start, what.days)
    return DiagnosedMonth(what.start[:7], config, resolved, month_of(what))
