"""
Prints how often the stated uncertainty holds the truth, with every common component drawn.

Run with `python tests/benchmarks/bench_coverage.py`; `--months N`, `--days N`, `--law
stated|shaped`. Each month has its own draw of every component of every instrument's budget, added
to the truth as an error that stays as long as the budget says: over the calibration, a day, a
minute. `stated` draws from the stated laws; `shaped` uses responses inside the class limits that
follow the sun and the course of the day instead (directional by azimuth and zenith, offset by net
longwave, temperature by the hour, linearity by the level). What measures is the code that archives:
uncertainty of minutes, split, derived series and aggregates. Shortened months of ten-minute values
unless asked otherwise; direct sums of the pipeline's own coefficients, so that this tests laws,
periods and combination, not the coefficients, which are tested against other calculations.
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

import invented  # noqa: E402
from sunledger.config.models.processing import Processing  # noqa: E402
from sunledger.config.resolve import Period  # noqa: E402
from sunledger.physics.sun import solar_position  # noqa: E402
from sunledger.physics.uncertainty import FORMS, Situation  # noqa: E402
from sunledger.physics.uncertainty_inputs import SCALE_UNCERTAINTY, Component  # noqa: E402
from sunledger.stages.aggregate import aggregates  # noqa: E402
from sunledger.stages.budgets import pieces  # noqa: E402
from sunledger.stages.surroundings import surroundings  # noqa: E402
from sunledger.stages.uncertain_minutes import expanded_on_grid  # noqa: E402

INTERVAL = 600
POSITION = {q: p for p, q in invented.QUANTITY.items()}
FOUR = ("ghi", "dhi", "dni", "lwd")
PRODUCTS = ("hourly", "daily", "monthly")
Values = dict[str, np.ndarray]


def resolved(days: int) -> Period:
    """An invented station of class A on a clock kept by a time signal, its diffuse shaded."""
    every = tuple(invented.SENSITIVITY)
    clock = {"discipline": "time_signal"}
    config = invented.station_config(
        {"main": invented.logger(every, interval=INTERVAL, clock=clock)},
        [
            invented.instrument(p, invented.certificate(p), response_time=5.0)
            for p in invented.SENSITIVITY
        ],
        [
            invented.deployment("diffuse_1", id="shaded", shade="disc", corrects="dep-diffuse_1",
                                reason="shade forgotten")
        ],
    )  # fmt: skip
    settings = Processing.model_validate(
        {"aggregate": {"least_share_daily": 0.0, "composite_least_days": 1}}
    )
    return invented.period(config, days=days, processing=settings)


def weather(period: Period, rng: np.random.Generator) -> tuple[Values, np.ndarray]:
    """True irradiances of a month: days clear, broken or overcast, and the zenith angle."""
    time = np.arange(period.start, period.end, INTERVAL)
    middle = time + INTERVAL / 2
    zenith = solar_position(middle, period.latitude, period.longitude, period.altitude).zenith
    mu = np.maximum(np.cos(np.radians(zenith)), 0.0)
    per_day = 86400 // INTERVAL
    kind = np.repeat(rng.integers(0, 3, time.size // per_day), per_day)
    flicker = rng.uniform(0.0, 1.0, time.size)
    share = np.choose(kind, [1.0, flicker, 0.0])
    dni = share * 950.0 * np.exp(-0.12 / np.maximum(mu, 0.03)) * (mu > 0)
    dhi = (60.0 + np.choose(kind, [30.0, 180.0, 250.0])) * mu**0.8
    lwd = 250.0 + np.choose(kind, [0.0, 30.0, 60.0]) + 10.0 * np.cos(2 * np.pi * time / 86400)
    return {"ghi": dhi + dni * mu, "dhi": dhi, "dni": dni, "lwd": lwd}, zenith


def unit_draw(law: str, shape: tuple[int, ...], rng: np.random.Generator) -> np.ndarray:
    """Draws of a law of width 1."""
    if law == "normal":
        return rng.normal(0.0, 0.5, shape)
    if law == "triangular":
        return rng.triangular(-1.0, 0.0, 1.0, shape)
    return rng.uniform(-1.0, 1.0, shape)


def shape_of(name: str, light: Situation, time: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A course of a common error between -1 and 1 that a real response could have."""
    turn = 2 * np.pi * (time / 86400 + rng.uniform())
    sign = rng.uniform(-1.0, 1.0)
    zenith = np.broadcast_to(np.asarray(light.zenith, float), time.shape)
    if name == "directional":
        return sign * np.clip((zenith - 20.0) / 60.0, 0.0, 1.0) * (0.6 + 0.4 * np.cos(turn))
    if name == "temperature":
        return sign * (0.5 + 0.5 * np.cos(turn))
    if name == "non_linearity":
        level = np.broadcast_to(np.asarray(light.proportional, float), time.shape)
        return sign * np.clip((level - 500.0) / 500.0, -1.0, 1.0)
    return np.full(time.shape, sign)


def error_of(
    part: Component, light: Situation, time: np.ndarray, shaped: bool, rng: np.random.Generator
) -> np.ndarray:
    """One component's error in every interval."""
    coefficient = np.broadcast_to(np.asarray(FORMS[part.form](light), float), time.shape)
    per_day = 86400 // INTERVAL
    if part.common == "sample":
        drawn = unit_draw(part.law, time.shape, rng)
    elif part.common == "day":
        drawn = np.repeat(unit_draw(part.law, (time.size // per_day,), rng), per_day)
    elif shaped and part.law != "normal":
        drawn = shape_of(part.name, light, time, rng)
    else:
        drawn = np.full(time.shape, unit_draw(part.law, (), rng))
    return part.width * coefficient * drawn


def signed(light: Situation) -> np.ndarray:
    """Percent of the signal with its sign, for what instruments share."""
    return np.asarray(light.proportional, float) / 100.0


def measured(
    truth: Values, zenith: np.ndarray, period: Period, shaped: bool, rng: np.random.Generator
) -> xr.Dataset:
    """Minutes of one month with every error drawn, and the uncertainty that is stated for them."""
    time = np.arange(period.start, period.end, INTERVAL)
    body = {"lwd_body_temperature": np.full(time.shape, 285.0)}
    around = surroundings({**truth, **body}, time, zenith, period, INTERVAL)
    scale, gain = rng.normal(0.0, SCALE_UNCERTAINTY), rng.uniform(-0.01, 0.01)
    data: Values = {"solar_zenith_angle": zenith, "clock_residual_main": np.zeros(time.shape)}
    for quantity in FOUR:
        one = {"mean": truth[quantity], "body_temperature": body["lwd_body_temperature"]}
        (piece,) = pieces(POSITION[quantity], one, around, period)
        light, value = piece.situation, truth[quantity].copy()
        for part in piece.components:
            if part.name == "calibration":
                own = np.sqrt(max(part.standard**2 - SCALE_UNCERTAINTY**2, 0.0))
                value += signed(light) * (scale + rng.normal(0.0, own))
            elif part.name == "logger_gain":
                value += signed(light) * gain
            else:
                value += error_of(part, light, time, shaped, rng)
        seen = {**one, "mean": value}
        data[quantity] = value
        data[f"{quantity}_uncertainty"] = expanded_on_grid(POSITION[quantity], seen, around, period)
    data |= {"lwd_body_temperature": body["lwd_body_temperature"]}
    return xr.Dataset(
        {n: ("time", v) for n, v in data.items()}, {"time": time}, {"interval": INTERVAL}
    )


def strata(quantity: str, truth: Values, zenith: np.ndarray) -> Iterator[tuple[str, np.ndarray]]:
    """Conditions of the values: sky and sun; the direct only where there is some."""
    clear = truth["dni"] > 600.0
    up = zenith < 88.0
    for sky, under in (("clear", clear), ("cloudy", ~clear)):
        for sun, high in (("high sun", zenith < 60.0), ("low sun", zenith >= 60.0)):
            yield f"{sky}, {sun}", up & under & high
    if quantity == "lwd":
        yield "night", zenith > 96.0


def true_means(truth: Values, ds: xr.Dataset, period: Period) -> dict[str, xr.Dataset]:
    """Aggregates of the truth by the same stage."""
    exact = ds.assign({q: ("time", truth[q]) for q in FOUR})
    return aggregates(exact, period, PRODUCTS)


Hits = dict[tuple[str, str], list[float]]


def count_minutes(ds: xr.Dataset, truth: Values, zenith: np.ndarray, hits: Hits) -> Values:
    """Shares of values within their uncertainty by condition; and relative U when bright."""
    bright = (zenith < 60.0) & (truth["dni"] > 600.0)
    shares: Values = {}
    for quantity in FOUR:
        spread = ds[f"{quantity}_uncertainty"].values
        inside = np.abs(ds[quantity].values - truth[quantity]) <= spread
        for name, where in strata(quantity, truth, zenith):
            if where.any():
                hits[quantity, name].append(float(inside[where].mean()))
        shares[quantity] = 100 * spread[bright] / truth[quantity][bright]
    return shares


def count_means(ds: xr.Dataset, truth: Values, period: Period, hits: Hits) -> None:
    """The same of hours with light, days and months, derived quantities too."""
    means, exact = aggregates(ds, period, PRODUCTS), true_means(truth, ds, period)
    for product, got in means.items():
        for quantity in (q for q in (*FOUR, "ghi_component_sum") if q in got):
            expected = exact[product][quantity].values
            error = np.abs(got[quantity].values - expected)
            known = np.isfinite(error)
            if product == "hourly" and quantity != "lwd":
                known &= expected > 20.0
            if known.any():
                stated = got[f"{quantity}_uncertainty"].values
                hits[quantity, product].append(float((error <= stated)[known].mean()))


def main() -> None:
    """Run and print one line a quantity and condition."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--months", type=int, default=400)
    parser.add_argument("--days", type=int, default=10)
    parser.add_argument("--law", choices=("stated", "shaped"), default="stated")
    asked = parser.parse_args()
    period = resolved(asked.days)
    hits: Hits = defaultdict(list)
    widths: dict[str, list[np.ndarray]] = defaultdict(list)
    for seed in range(asked.months):
        rng = np.random.default_rng([11, seed])
        truth, zenith = weather(period, rng)
        ds = measured(truth, zenith, period, asked.law == "shaped", rng)
        for quantity, shares in count_minutes(ds, truth, zenith, hits).items():
            widths[quantity].append(shares)
        count_means(ds, truth, period, hits)
    print(f"{asked.law}: {asked.months} station-months of {asked.days} days")
    for (quantity, name), found in sorted(hits.items()):
        print(f"  {quantity:<18} {name:<18} {100 * np.mean(found):6.2f} %")
    for quantity, parts in widths.items():
        middle = np.median(np.concatenate(parts))
        print(f"  median U of a clear value at z < 60, {quantity}: {middle:.2f} %")


if __name__ == "__main__":
    main()
