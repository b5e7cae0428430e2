"""The published real month (see real_month.py) as the checks of a month get it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

import real_month
from diagnosed_months import month
from invented_months import Month
from sunledger.diagnosis.month import DiagnosedMonth
from sunledger.diagnosis.selection import Components

LATITUDE, LONGITUDE, ALTITUDE = 46.815, 6.944, 491.0
FALSE_ZEROS = (6, 10)
"""Days of June on which the direct was faulty."""


def published_month(error: np.ndarray | float = 0.0) -> DiagnosedMonth:
    """The real month, its clock wrong by some seconds; two days of false zeros left out."""
    table = real_month.published()
    time = table.index.to_numpy().astype("M8[s]").astype(np.float64) + 30.0
    usable = ~np.isin(table.index.day, FALSE_ZEROS)
    values = [table[q].to_numpy(float) for q in ("ghi", "dhi", "dni")]
    parts = Components(time + error, 60, *values, usable, LATITUDE, LONGITUDE, ALTITUDE)
    site = {"latitude": LATITUDE, "longitude": LONGITUDE, "altitude": ALTITUDE}
    given = month(Month(start="2016-06-01", days=1, **site))
    return replace(given, parts=parts, period="2016-06")
