"""
Prints the time of all aggregates of a station-year of minutes beside that of pandas' resample-mean.

Run with `python tests/benchmarks/bench_aggregate.py`; `--days N`, `--times N`, `--profile`.

The year holds ten measured quantities, of which six more are formed: six irradiances, each with
minimum, maximum, deviation, uncertainty and grade, and four of the air, in single precision as
minute files have them. The aggregates are hours, days and months together, with all that is formed,
the sun for every minute included, month by month as a run makes them.

Each is compared with one resample-mean to hours by pandas in the same process, single thread, of
the very arrays that it takes in: 42 with uncertainties, 36 without (numbers, grades, zenith angle,
residual of the clock). Two more tables make figures comparable with those given before: 35 arrays
of numbers, and the ten quantities alone. Processor time, the shortest of several runs that take
turns. Invented data.
"""

from __future__ import annotations

import argparse
import cProfile
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
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
from sunledger.physics.ephemeris import _knots_of_year  # noqa: E402
from sunledger.physics.sun import solar_position  # noqa: E402
from sunledger.stages.aggregate import from_cells, minute_cells  # noqa: E402
from sunledger.stages.cells import in_order  # noqa: E402

START = parse_utc("2031-01-01")
PRODUCTS = ("hourly", "daily", "monthly")
PARTS = ("", "_min", "_max", "_std", "_uncertainty")
IRRADIANCES = ("ghi", "dhi", "dni", "lwd", "swu", "lwu")
AIR = ("air_temperature", "relative_humidity", "air_pressure", "wind_speed")


def minutes(period: Period) -> xr.Dataset:
    """Random minutes with gaps."""
    rng = np.random.default_rng(1)
    stamps = np.arange(period.start, period.end, 60, dtype=np.int64)
    sun = solar_position(stamps + 30, period.latitude, period.longitude, period.altitude)
    data = {
        "solar_zenith_angle": sun.zenith,
        "clock_residual_main": rng.uniform(-9, 9, stamps.size),
    }
    for quantity in IRRADIANCES:
        gone = rng.random(stamps.size) < 0.05
        values = {q: np.where(gone, np.nan, rng.gamma(2.0, 150.0, stamps.size)) for q in PARTS}
        data |= {f"{quantity}{part}": array for part, array in values.items()}
    data |= {name: rng.normal(280.0, 5.0, stamps.size) for name in AIR}
    data = {name: array.astype(np.float32) for name, array in data.items()}
    for quantity in IRRADIANCES:
        grade = np.where(np.isnan(data[quantity]), 9, 1).astype(np.int8)
        data[f"{quantity}_grade"] = grade
    return xr.Dataset(
        {name: ("time", values) for name, values in data.items()},
        coords={"time": stamps},
        attrs={"interval": 60},
    )


def with_all(period: Period) -> Period:
    """The invented station as if it measured all six irradiances with one logger."""
    first, start, end = period.primary[0][1], period.start, period.end
    return replace(
        period,
        positions=tuple((first, q) for q in IRRADIANCES),
        primary=tuple((q, first, start, end) for q in IRRADIANCES),
    )


def by_months(ds: xr.Dataset) -> list[tuple[xr.Dataset, Period]]:
    """Minutes and configuration of every month, as a run hands them over."""
    months = ds["time"].values.astype("M8[s]").astype("M8[M]")
    found = []
    for month in np.unique(months):
        first, past = (int(m.astype("M8[s]").astype(np.int64)) for m in (month, month + 1))
        days = (min(past, int(ds["time"][-1]) + 60) - first) / 86400
        period = with_all(invented.period(invented.station_config(), first, days))
        found.append((ds.isel(time=months == month), period))
    return found


def quickest(ways: dict[str, Callable[[], object]], times: int) -> dict[str, float]:
    """Shortest processor time of some runs of each, which take turns. [s]"""
    spent = dict.fromkeys(ways, np.inf)
    for _ in range(times):
        for name, make in ways.items():
            begun = time.process_time()
            make()
            spent[name] = min(spent[name], time.process_time() - begun)
    return spent


def main() -> None:
    """Print the times and their ratios."""
    parser = argparse.ArgumentParser(description=__doc__.strip().splitlines()[0])
    parser.add_argument("--days", type=int, default=365)
    parser.add_argument("--times", type=int, default=5)
    parser.add_argument("--profile", action="store_true")
    given = parser.parse_args()
    period = invented.period(invented.station_config(), START, given.days)
    ds = minutes(period)
    pieces = by_months(ds)

    bare = [(one.drop_vars([f"{q}_uncertainty" for q in IRRADIANCES]), p) for one, p in pieces]

    def year(products: tuple[str, ...] = PRODUCTS, pieces: object = pieces) -> object:
        _knots_of_year.cache_clear()
        cells = [minute_cells(*piece, products) for piece in pieces]  # type: ignore[attr-defined]
        return from_cells(in_order(cells), period.processing.aggregate, products)

    if given.profile:
        cProfile.runctx("year()", {"year": year}, {}, sort="tottime")
    index = pd.to_datetime(ds["time"].values, unit="s")
    every = pd.DataFrame({str(n): ds[n].values for n in ds.data_vars}, index)
    tables = {
        "all that is taken in": every,
        "the same without uncertainties": every[[n for n in every if "uncertainty" not in n]],
        "numbers": every[[n for n in every if "grade" not in n and "clock" not in n]],
        "quantities": every[[*IRRADIANCES, *AIR]],
    }
    ways: dict[str, Callable[[], object]] = {
        "hours, days and months": year,
        "without any uncertainty": lambda: year(pieces=bare),
        "hours alone": lambda: year(("hourly",)),
    }
    plain = {
        n: partial(lambda table: table.resample("h").mean(), t.copy()) for n, t in tables.items()
    }
    spent = quickest({**ways, **plain}, given.times)
    for name, table in tables.items():
        print(f"pandas resample-mean of {table.shape[1]} arrays ({name}): {spent[name]:.3f} s")
        for way in ways:
            print(f"  {way}: {spent[way]:.3f} s, ratio {spent[way] / spent[name]:.2f}")


if __name__ == "__main__":
    main()
