"""
Prints the time of all aggregates of a station-year of minutes beside that of one pandas resample.

Run with `python tests/benchmarks/bench_aggregate.py`; `--days N`. The pandas side is one
resample-mean to hours of twelve arrays of the same length, in the same process; the aggregates are
hours, days and months together, with all statistics of four quantities and what is formed of them,
and with the sun computed for every minute, month by month as a run makes them. Invented data.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr

REPOSITORY = Path(__file__).resolve().parents[2]
# A script as well: the invented station lies outside the package.
sys.path[:0] = [str(REPOSITORY / "tests")]

import invented  # noqa: E402
from sunledger.config.models.base import parse_utc  # noqa: E402
from sunledger.config.resolve import Period  # noqa: E402
from sunledger.physics.sun import solar_position  # noqa: E402
from sunledger.stages.aggregate import aggregates  # noqa: E402

START = parse_utc("2031-01-01")
PRODUCTS = ("hourly", "daily", "monthly")
PARTS = ("", "_min", "_max", "_std", "_uncertainty")
ARRAYS = 12


def minutes(period: Period) -> xr.Dataset:
    """Random minutes with gaps, of four quantities with their statistics."""
    rng = np.random.default_rng(1)
    stamps = np.arange(period.start, period.end, 60, dtype=np.int64)
    sun = solar_position(stamps + 30, period.latitude, period.longitude, period.altitude)
    data = {"solar_zenith_angle": sun.zenith, "clock_residual_main": np.zeros(stamps.size)}
    for quantity in ("ghi", "dhi", "dni", "lwd"):
        gone = rng.random(stamps.size) < 0.05
        values = {q: np.where(gone, np.nan, rng.gamma(2.0, 150.0, stamps.size)) for q in PARTS}
        data |= {f"{quantity}{part}": array for part, array in values.items()}
        data[f"{quantity}_grade"] = np.where(gone, 9, 1).astype(np.int8)
    return xr.Dataset(
        {name: ("time", values) for name, values in data.items()},
        coords={"time": stamps},
        attrs={"interval": 60},
    )


def by_months(ds: xr.Dataset) -> list[tuple[xr.Dataset, Period]]:
    """Minutes and configuration of every month, as a run hands them over."""
    months = ds["time"].values.astype("M8[s]").astype("M8[M]")
    found = []
    for month in np.unique(months):
        first, past = (int(m.astype("M8[s]").astype(np.int64)) for m in (month, month + 1))
        days = (min(past, int(ds["time"][-1]) + 60) - first) / 86400
        period = invented.period(invented.station_config(), first, days)
        found.append((ds.isel(time=months == month), period))
    return found


def quickest(make: Callable[[], object], times: int = 3) -> float:
    """Shortest of some runs. [s]"""
    spent = []
    for _ in range(times):
        begun = time.perf_counter()
        make()
        spent.append(time.perf_counter() - begun)
    return min(spent)


def main() -> None:
    """Print both times and their ratio."""
    parser = argparse.ArgumentParser(description=__doc__.strip().splitlines()[0])
    parser.add_argument("--days", type=int, default=365)
    days = parser.parse_args().days
    period = invented.period(invented.station_config(), START, days)
    ds = minutes(period)
    chosen = [f"{q}{p}" for q in ("ghi", "dhi", "dni", "lwd") for p in PARTS][:ARRAYS]
    index = pd.to_datetime(ds["time"].values, unit="s")
    table = pd.DataFrame({name: ds[name].values for name in chosen}, index)
    plain = quickest(lambda: table.resample("h").mean())
    pieces = by_months(ds)
    ours = quickest(lambda: [aggregates(*piece, PRODUCTS) for piece in pieces])
    hours = quickest(lambda: [aggregates(*piece, ("hourly",)) for piece in pieces])
    print(f"pandas resample-mean of {ARRAYS} arrays to hours: {plain:.3f} s")
    print(f"hours, days and months with all that is formed: {ours:.3f} s, ratio {ours / plain:.1f}")
    print(f"hours alone: {hours:.3f} s, ratio {hours / plain:.1f}")


if __name__ == "__main__":
    main()
