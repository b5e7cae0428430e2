"""Averages of one quantity: worked by hand, by brute force, and what is withheld."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sunledger.config.models.aggregation import AggregateSettings
from sunledger.physics.segments import Segments
from sunledger.physics.strata import Stratum
from sunledger.stages.cells import Cells
from sunledger.stages.periods import (
    Series,
    coverage,
    is_shortwave,
    period_statistics,
    series_sums,
    stratum_sums,
    withheld_words,
)
from sunledger.vocabulary import WITHHELD

NO_SAMPLE, LOW = (WITHHELD[n].mask for n in ("no_valid_sample", "low_coverage"))
NAN = np.nan


def settings(**changes: Any) -> AggregateSettings:
    """Settings of the stage."""
    return AggregateSettings(**changes)


def series(values: Any, valid: Any = None, **parts: Any) -> Series:
    """A series in which what is finite counts."""
    mean = np.asarray(values, dtype=float)
    usable = np.isfinite(mean) if valid is None else np.asarray(valid, bool)
    return Series(mean, usable, **{n: np.asarray(p, float) for n, p in parts.items()})


def statistics(mine: Series, width: int, share: float, **changes: Any) -> dict[str, Any]:
    """Statistics over periods of so many minutes; ``bright`` are the minutes of day."""
    bright = changes.pop("bright", None)
    segments = Segments(np.arange(0, mine.mean.size + 1, width))
    strata = {} if bright is None else {"asked": Stratum(segments, np.asarray(bright, bool))}
    parts = series_sums(mine, segments)
    for name, inside in strata.items():
        apart = stratum_sums({"ghi": mine}, {"ghi": parts[0]}, inside)["ghi"]
        parts[0].update({f"{name}_{part}": values for part, values in apart.items()})
    edges = 60 * segments.edges
    named = ({f"ghi.{n}": v for n, v in part.items()} for part in parts)
    cells = Cells(edges[:-1], edges[1:], edges[:-1], *named, {"ghi": 60})
    return period_statistics(cells, "ghi", share, settings(**changes))


# --- worked by hand ------------------------------------------------------------------------


def test_a_short_series_with_gaps_by_hand() -> None:
    """Two periods of four minutes; a gap, and a minute that does not count.

    First: 10, -, 30, 20 → mean 20, exposure 20 x 240 = 4800 J. Second: 5, (900), -, 7 → 6; the
    900 leaves no trace. Deviations: within 1 and 2 and 3, means 10, 30, 20 →
    sqrt((1 + 4 + 9) / 3 + (100 + 100 + 0) / 3) = sqrt(214 / 3).
    """
    mine = series(
        [10, NAN, 30, 20, 5, 900, NAN, 7],
        [1, 0, 1, 1, 1, 0, 0, 1],
        minimum=[9, NAN, 25, 19, 4, 0, NAN, 6],
        maximum=[11, NAN, 35, 21, 6, 999, NAN, 9],
        std=[1, NAN, 2, 3, 0, 50, NAN, 0],
        uncertainty=[2, NAN, 6, 4, 1, 90, NAN, 2],
    )
    got = statistics(mine, 4, 0.5)
    assert_allclose(got[""], [20.0, 6.0])
    assert_allclose(got["exposure"], [4800.0, 1440.0])
    assert_array_equal(got["min"], [9.0, 4.0])
    assert_array_equal(got["max"], [35.0, 9.0])
    assert_allclose(got["std"], [np.sqrt(214 / 3), 1.0])
    # common 4 and 1.5; a quarter missing of 10, 30, 20, half of 5, 7, twice for k
    missing = 2 * np.array([np.sqrt(200 / 3) / 4, 0.5])
    assert_allclose(got["uncertainty"], np.hypot([4.0, 1.5], missing))
    assert_array_equal(got["number_of_observations"], [3, 2])
    assert_array_equal(got["number_of_missing_observations"], [1, 2])
    assert_allclose(got["coverage_fraction"], [0.75, 0.5])
    assert_array_equal(got["withheld"], [0, 0])


def test_too_few_minutes_withhold_everything_but_the_counts() -> None:
    """Value, exposure, extremes, deviation and uncertainty; the reason is coded."""
    parts = {n: np.ones(8) for n in ("minimum", "maximum", "std", "uncertainty")}
    values = [1.0, NAN, NAN, NAN, NAN, NAN, NAN, NAN]
    got = statistics(series(values, **parts), 4, 0.5)
    for name in ("", "exposure", "min", "max", "std", "uncertainty"):
        assert np.isnan(got[name]).all(), name
    assert_array_equal(got["withheld"], [LOW, LOW | NO_SAMPLE])
    assert_array_equal(got["number_of_observations"], [1, 0])


def test_deviation_by_brute_force() -> None:
    """Seconds to minutes to hours gives the deviation of all the seconds."""
    seconds = np.random.default_rng(3).gamma(2.0, 150.0, (6, 60, 60))
    mine = series(
        seconds.mean(2).ravel(),
        minimum=seconds.min(2).ravel(),
        maximum=seconds.max(2).ravel(),
        std=seconds.std(2).ravel(),
    )
    got = statistics(mine, 60, 0.5)
    flat = seconds.reshape(6, -1)
    assert_allclose(got[""], flat.mean(1), rtol=1e-12)
    assert_allclose(got["std"], flat.std(1), rtol=1e-12)
    assert_array_equal(got["min"], flat.min(1))
    assert_array_equal(got["max"], flat.max(1))


@pytest.mark.parametrize(
    ("count", "share", "word"),
    [(30, 0.5, 0), (29, 0.5, LOW), (0, 0.5, LOW | NO_SAMPLE), (0, 0.0, NO_SAMPLE), (60, 1.0, 0)],
)
def test_completeness_of_an_hour(count: int, share: float, word: int) -> None:
    """Exactly the share is enough; nothing at all is never enough."""
    assert withheld_words(np.array([count]), 60, share).tolist() == [word]


def test_a_share_that_floating_point_cannot_write() -> None:
    """0.55 x 1440 is a hair above 792 in binary; 792 minutes are 55 %."""
    assert withheld_words(np.array([792, 791]), 1440, 0.55).tolist() == [0, LOW]


def test_coverage_counts() -> None:
    """Those there, those not, and the share."""
    got = coverage(np.array([45, 0]), np.array([60, 60]))
    assert got["number_of_missing_observations"].tolist() == [15, 60]
    assert got["coverage_fraction"].tolist() == [0.75, 0.0]


def test_unknown_extremes_and_deviations_stay_unknown() -> None:
    """A minute that counts and lacks its own leaves those of the period unknown, and no other."""
    mine = series(
        [1.0, 3.0, 5.0, 7.0],
        minimum=[NAN, 2.0, 4.0, 6.0],
        maximum=[2.0, 4.0, 6.0, 8.0],
        std=[NAN, 1.0, 1.0, 1.0],
    )
    got = statistics(mine, 2, 0.5)
    assert_array_equal(got["min"], [NAN, 4.0])
    assert_array_equal(got["max"], [4.0, 8.0])
    assert np.isnan(got["std"][0])
    assert got[""].tolist() == [2.0, 6.0]


def test_a_steady_series_has_no_deviation() -> None:
    """Rounding must not make the root of a negative number."""
    mine = series(np.full(600, 1234.567), std=np.zeros(600))
    got = statistics(mine, 60, 0.5)
    assert np.all(got["std"] >= 0.0)
    assert np.all(got["std"] < 1e-4)


def test_single_precision_is_summed_in_double() -> None:
    """As minute files have it."""
    values = np.full(1440, 0.1, np.float32)
    got = statistics(Series(values, np.ones(1440, bool)), 1440, 0.5)
    assert_allclose(got[""], np.float64(np.float32(0.1)), rtol=1e-14)


# --- nights apart --------------------------------------------------------------------------


def test_a_night_without_readings_by_hand() -> None:
    """Six minutes of which four are bright: 100, 200, -, 300 and two dark ones missing.

    Asked of all: 3 of 6. Asked of the bright: 3 of 4, mean 200 in four of six minutes, the dark
    as 0: 133.3. With one dark reading of -3: (4 x 200 - 3) / 6.
    """
    bright = [1, 1, 1, 1, 0, 0]
    mine = series([100.0, 200.0, NAN, 300.0, NAN, NAN])
    asked = statistics(mine, 6, 0.7, bright=bright)
    assert asked["withheld"].tolist() == [LOW]
    apart = statistics(mine, 6, 0.7, bright=bright, night="not_asked")
    assert apart["withheld"].tolist() == [0]
    assert_allclose(apart[""], [800.0 / 6.0])
    assert apart["number_of_missing_observations"].tolist() == [3]
    offset = series([100.0, 200.0, NAN, 300.0, -3.0, NAN])
    apart = statistics(offset, 6, 0.7, bright=bright, night="not_asked")
    assert_allclose(apart[""], [(800.0 - 3.0) / 6.0])


def test_a_night_alone_is_not_guessed() -> None:
    """Nothing read by night: no value; read: its mean; a day whose light was not seen: none."""
    mine = series([NAN, NAN, -2.0, -2.0, -1.0, NAN])
    got = statistics(mine, 2, 0.9, bright=[0, 0, 0, 0, 0, 1], night="not_asked")
    assert got["withheld"].tolist() == [NO_SAMPLE, 0, LOW]
    assert_array_equal(got[""], [NAN, -2.0, NAN])


def test_families() -> None:
    """The night has no light in whatever is formed of shortwave alone."""
    dark = [q for q in ("ghi", "dni_horizontal", "net_shortwave", "lwd", "net_radiation")]
    assert [is_shortwave(q) for q in dark] == [True, True, True, False, False]
