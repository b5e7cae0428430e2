"""
Prints what the sample generator makes: natural closure failures, agreement with truth, speed, size.

Run with `python tests/benchmarks/bench_generator.py`; `--seeds N` for another number of seeds.
Natural closure failures must come out at 0.5 to 1.5 % of daylight minutes, as on a real month
(1.00 % on the month of June 2016 at Payerne, BSRN station 21, without two faulty days), mostly
single minutes: there 0.43 / 0.20 / 0.09 % stood in rows of at least 2 / 3 / 5.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

REPOSITORY = Path(__file__).resolve().parents[2]
# A script as well: the generator and the fault models lie outside the package.
sys.path[:0] = [str(REPOSITORY / "sample_raw"), str(REPOSITORY / "tests")]

from northmere.instruments import thermistor_resistance  # noqa: E402
from northmere.light import SIGMA  # noqa: E402
from northmere.scenario import SCENARIOS  # noqa: E402
from northmere.station import Made, make_station, with_true_clocks  # noqa: E402
from northmere.tables import packed  # noqa: E402

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]
COMPONENTS = {"ghi": "global_1", "dhi": "diffuse_1", "dni": "direct_1", "lwd": "longwave_1"}


def on_grid(made: Made, start: Floats, values: Floats) -> Floats:
    """
    Rows of a table on the true grid.

    Parameters
    ----------
    made : Made
        Gives the grid.
    start : ndarray of float, shape (rows,)
        True start of each row. [s]
    values : ndarray of float, shape (rows,)
        Their values.

    Returns
    -------
    values : ndarray of float, shape (time,)
        NaN where no row is.
    """
    grid = made.truth["time"]
    slot = np.round((start - grid[0]) / made.interval).astype(int)
    inside = (slot >= 0) & (slot < grid.size)
    out = np.full(grid.size, np.nan)
    out[slot[inside]] = values[inside]
    return out


def logged(made: Made, source: str) -> Floats:
    """
    Mean of one source on the true grid.

    Parameters
    ----------
    made : Made
        A station with true clocks.
    source : str
        As in `northmere.shapes.Column`.

    Returns
    -------
    values : ndarray of float, shape (time,)
        Microvolts, or degrees Celsius for temperatures.
    """
    for table in made.tables.values():
        for column in table.logger.columns:
            if column.source == source and column.statistic == "mean":
                values = on_grid(made, table.true_start, table.columns[column.name])
                return _plain_unit(values, column.unit)
    raise LookupError(f"{made.scenario.id} logs no {source}")


def _plain_unit(values: Floats, unit: str) -> Floats:
    if unit != "ohm":
        return values * (1e3 if unit == "mV" else 1.0)
    celsius = np.linspace(-40.0, 60.0, 2001)
    ohms = thermistor_resistance(celsius + 273.15)
    return np.interp(values, ohms[::-1], celsius[::-1])


def measured(made: Made) -> dict[str, Floats]:
    """
    Irradiances by the certificates alone, as a careful pipeline would have them.

    Parameters
    ----------
    made : Made
        A station with true clocks.

    Returns
    -------
    irradiances : dict of ndarray
        ``ghi dhi dni lwd`` on the true grid; offsets not corrected. [W m-2]
    """
    body, out = logged(made, "longwave_1.body"), {}
    for component, position in COMPONENTS.items():
        flux = _by_certificate(made, position, body)
        if component == "lwd":
            flux = flux + SIGMA * (body + 273.15) ** 4 - _dome_term(made, position, body)
        out[component] = flux
    return out


def _dome_term(made: Made, position: str, body: Floats) -> Floats:
    serial = next(p.serial for p in made.scenario.placements if p.position == position)
    factor = made.scenario.instrument(serial).dome_factor
    if factor is None:
        return np.zeros(body.size)
    dome = logged(made, f"{position}.dome")
    return factor * SIGMA * ((dome + 273.15) ** 4 - (body + 273.15) ** 4)


def _by_certificate(made: Made, position: str, body: Floats) -> Floats:
    start, microvolts = made.truth["time"], logged(made, position)
    value = np.full(start.size, np.nan)
    for placement in made.scenario.placements:
        unit = made.scenario.instrument(placement.serial)
        if placement.position != position:
            continue
        days = [np.datetime64(c.date, "s").astype(float) for c in unit.certificates]
        stated = np.interp(start, days, [c.sensitivity for c in unit.certificates])
        table = np.array(unit.temperature_response or ((20.0, 0.0),))
        flux = microvolts / stated / (1.0 + np.interp(body, table[:, 0], table[:, 1]) / 100.0)
        inside = (start >= placement.start) & (start < placement.end)
        value[inside] = flux[inside]
    return value


def closure_failures(irradiance: dict[str, Floats], zenith: Floats) -> tuple[Mask, Mask]:
    """
    Minutes that fail the published three-component closure.

    Parameters
    ----------
    irradiance : dict of ndarray
        ``ghi dhi dni``. [W m-2]
    zenith : ndarray of float, shape (time,)
        At the middle of the minute. [degree]

    Returns
    -------
    failed, daylight : ndarray of bool, shape (time,)
        Ratio of global over the sum outside 0.92-1.08 (zenith below 75) or 0.85-1.15 (75-93)
        where the sum exceeds 50 W m-2; zenith below 90.
    """
    flat = np.maximum(np.cos(np.radians(zenith)), 0.0)
    total = irradiance["dhi"] + irradiance["dni"] * flat
    ratio = irradiance["ghi"] / np.where(total > 50.0, total, np.nan)
    width = np.where(zenith < 75.0, 0.08, 0.15)
    failed = (np.abs(ratio - 1.0) > width) & (zenith < 93.0)
    return failed, zenith < 90.0


def in_rows(failed: Mask, least: int) -> Mask:
    """
    Failures that stand in rows of some length.

    Parameters
    ----------
    failed : ndarray of bool, shape (time,)
        By minute.
    least : int
        Least length.

    Returns
    -------
    rows : ndarray of bool, shape (time,)
        Those in rows of at least ``least``.
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], failed, [False]]).astype(int)))
    out = np.zeros(failed.size, dtype=bool)
    for start, end in edges.reshape(-1, 2):
        out[start:end] = end - start >= least
    return out


def closure_rates(made: Made) -> tuple[float, float, float, float]:
    """
    Natural closure failures of one station.

    Parameters
    ----------
    made : Made
        Without faults, with true clocks.

    Returns
    -------
    rates : tuple of float
        All, and those in rows of at least 2, 3 and 5. [percent of daylight minutes]
    """
    failed, daylight = closure_failures(measured(made), made.truth["solar_zenith_angle"])
    share = [100.0 * in_rows(failed & daylight, n).sum() / daylight.sum() for n in (1, 2, 3, 5)]
    return share[0], share[1], share[2], share[3]


def agreement(made: Made) -> dict[str, tuple[float, float]]:
    """
    Difference of measured from true irradiance by day.

    Parameters
    ----------
    made : Made
        Without faults, with true clocks.

    Returns
    -------
    agreement : dict of (float, float)
        Component → mean difference and 95 % quantile of the absolute difference. [W m-2]
    """
    values, day = measured(made), made.truth["solar_zenith_angle"] < 90.0
    differences = {name: (values[name] - made.truth[name])[day] for name in values}
    return {
        name: (float(np.nanmean(d)), float(np.nanquantile(np.abs(d), 0.95)))
        for name, d in differences.items()
    }


def report(identifier: str, seeds: int) -> None:
    """
    Print the figures of one station over some seeds.

    Parameters
    ----------
    identifier : str
        Station.
    seeds : int
        Number of seeds.
    """
    scenario, rates, seconds = with_true_clocks(SCENARIOS[identifier]), [], []
    differences: dict[str, list[tuple[float, float]]] = {}
    for seed in range(1, seeds + 1):
        begun = time.perf_counter()
        made = make_station(scenario, scenario.start, 30, seed, faults=False)
        seconds.append(time.perf_counter() - begun)
        rates.append(closure_rates(made))
        for name, pair in agreement(made).items():
            differences.setdefault(name, []).append(pair)
    table = np.array(rates)
    print(f"{identifier}: closure failures, % of daylight minutes, {seeds} seeds of 30 days")
    print("  by seed:", " ".join(f"{row[0]:.2f}" for row in table))
    mean = table.mean(axis=0)
    print(
        f"  mean {mean[0]:.2f}; in rows of at least 2 / 3 / 5: "
        f"{mean[1]:.2f} / {mean[2]:.2f} / {mean[3]:.2f}"
    )
    for name, pairs in differences.items():
        bias = np.array([p[0] for p in pairs])
        spread = float(np.mean([p[1] for p in pairs]))
        print(
            f"  {name}: bias {bias.mean():+.2f} (sd over seeds {bias.std():.2f}), "
            f"95 % of minutes within {spread:.1f} W m-2 by day"
        )
    lines = made.files()
    size = sum(len(packed(text)) for text in lines.values())
    print(
        f"  {np.mean(seconds):.2f} s for 30 days; {size / len(lines) / 1e3:.0f} kB a file, "
        f"{size / 30e3:.0f} kB a day"
    )


def main() -> None:
    """Print the figures of all stations."""
    parser = argparse.ArgumentParser(description="figures of the sample generator")
    parser.add_argument("--seeds", type=int, default=8)
    options = parser.parse_args()
    for identifier in SCENARIOS:
        report(identifier, options.seeds)


if __name__ == "__main__":
    main()
