"""
Prints how often the stated uncertainty holds the truth, with every common component drawn.

Run with `python tests/benchmarks/bench_coverage.py`; `--months N`, `--days N`, `--interval S`,
`--law stated|shaped`, `--gaps`. Each month has its own draw of every component of every
instrument's budget (`tests/drawn_month.py`): truth is turned into voltages by instruments with
these errors and read by the stages that archive, with the certificates that state the widths:
calibrate, time_correct, aggregate. Four seasons, certificates of a year and of two and a half,
a third of the months with a recorded soiled time. With `--gaps` outages and single minutes are
missing, of all instruments and of the direct alone, so that the selected global mixes its sources;
the truth of a mean is then that of the whole period, and complete and incomplete periods are told
apart. Last come the median widths of clear values.
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import xarray as xr

REPOSITORY = Path(__file__).resolve().parents[2]
# A script as well: the invented station lies outside the package.
sys.path[:0] = [str(REPOSITORY / "tests")]

from drawn_month import FOUR, Sky, measured, resolved, sky_of  # noqa: E402
from sunledger.stages.aggregate import aggregates  # noqa: E402

FORMED = ("ghi_component_sum", "ghi_selected", "dni_horizontal")
PRODUCTS = ("hourly", "daily", "monthly")
LEAST_LIGHT = 20.0
"""Hours of shortwave with less in the mean are left out: nothing is measured there. [W m-2]"""
Values = dict[str, np.ndarray]
Hits = dict[tuple[str, str], list[float]]


def strata(quantity: str, sky: Sky) -> Iterator[tuple[str, np.ndarray]]:
    """Conditions of the values: sky and sun, and night for the longwave."""
    clear, up = sky.truth["dni"] > 600.0, sky.zenith < 88.0
    low_clear = sky.truth["dni"] > 300.0
    for sun, high in (("high sun", sky.zenith < 60.0), ("low sun", sky.zenith >= 60.0)):
        bright = clear if sun == "high sun" else low_clear
        yield f"clear, {sun}", up & bright & high
        yield f"cloudy, {sun}", up & ~bright & high
    if quantity == "lwd":
        yield "night", sky.zenith > 96.0


def count_minutes(ds: xr.Dataset, sky: Sky, hits: Hits) -> Values:
    """Shares of values within their uncertainty by condition; and relative U when bright."""
    truth = sky.truth
    bright = (sky.zenith < 60.0) & (truth["dni"] > 600.0)
    shares: Values = {}
    for quantity in FOUR:
        spread, error = (
            ds[f"{quantity}_uncertainty"].values,
            ds[quantity].values - truth[quantity],
        )
        known = np.isfinite(error)
        for name, where in strata(quantity, sky):
            if (where & known).any():
                inside = (np.abs(error) <= spread)[where & known]
                hits[quantity, name].append(float(inside.mean()))
        shares[quantity] = 100 * spread[bright & known] / truth[quantity][bright & known]
    return shares


def count_means(ds: xr.Dataset, sky: Sky, hits: Hits) -> None:
    """The same of hours with light, days and months, and of what is formed from others."""
    truth = sky.truth
    exact = aggregates(ds.assign({q: ("time", truth[q]) for q in FOUR}), sky.period, PRODUCTS)
    for product, got in aggregates(ds, sky.period, PRODUCTS).items():
        for quantity in (q for q in (*FOUR, *FORMED) if q in got):
            expected = exact[product][quantity].values
            error = np.abs(got[quantity].values - expected)
            inside = error <= got[f"{quantity}_uncertainty"].values
            known = np.isfinite(error)
            if product == "hourly" and quantity != "lwd":
                known &= expected > LEAST_LIGHT
            lacking = got[f"{quantity}_number_of_missing_observations"].values > 0
            for words, where in ((product, ~lacking), (f"{product}, incomplete", lacking)):
                if (known & where).any():
                    hits[quantity, words].append(float(inside[known & where].mean()))


def main() -> None:
    """Run and print one line a quantity and condition."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--months", type=int, default=400)
    parser.add_argument("--days", type=int, default=30)
    parser.add_argument("--interval", type=int, default=60)
    parser.add_argument("--law", choices=("stated", "shaped"), default="stated")
    parser.add_argument("--gaps", action="store_true")
    asked = parser.parse_args()
    hits: Hits = defaultdict(list)
    widths: dict[str, list[np.ndarray]] = defaultdict(list)
    for seed in range(asked.months):
        rng = np.random.default_rng([12, seed])
        sky = sky_of(resolved(seed % 24, asked.days, asked.interval), asked.interval, rng)
        ds = measured(sky, asked.law == "shaped", asked.gaps, rng)
        usual = not sky.period.soilings and seed // 4 % 2 == 0
        for quantity, shares in count_minutes(ds, sky, hits).items():
            widths[quantity].append(shares)
            if usual:
                widths[f"{quantity}, certificate of a year, nothing recorded"].append(shares)
        count_means(ds, sky, hits)
    gaps = ", with gaps" if asked.gaps else ""
    print(f"{asked.law}: {asked.months} station-months of {asked.days} days{gaps}")
    for (quantity, name), found in sorted(hits.items()):
        print(f"  {quantity:<18} {name:<20} {100 * np.mean(found):6.2f} %  of {len(found)} months")
    for quantity, parts in widths.items():
        middle = np.median(np.concatenate(parts))
        print(f"  median U of a clear value at z < 60, {quantity}: {middle:.2f} %")


if __name__ == "__main__":
    main()
