"""Uncertainty of readings: which class limits and certificate enter, by the GUM by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from invented import KINDS, certificate, instrument, period, station_config
from sunledger.config.coefficients import Coefficients
from sunledger.stages.budgets import expanded_uncertainty_of, lag_of, with_timing

CALM = np.array([500.0])


def row_of(position: str, **changes: Any) -> Coefficients:
    """The resolved coefficients of a position."""
    every = [instrument(p, certificate(p)) for p in KINDS]
    rows = period(station_config(instruments=every)).coefficients
    return replace(next(r for r in rows if r.position == position), **changes)


def uncertainty(row: Coefficients, irradiance: Any, body: float = 280.0) -> np.ndarray:
    """Expanded uncertainty of irradiances."""
    values = np.asarray(irradiance, dtype=float)
    sensitivity = np.full(values.shape, row.sensitivity_points[0][1])
    voltage = (values - (300.0 if row.kind == "pyrgeometer" else 0.0)) * sensitivity
    return expanded_uncertainty_of(row, values, voltage, sensitivity, np.full(values.shape, body))


def test_certificate_enters_as_stated() -> None:
    """What a certificate of U % adds in quadrature is U % of the value, whatever its k.

    u(R)/R = U/k; the expanded uncertainty has k = 2 (JCGM 100:2008, 6.2).
    """
    none = uncertainty(row_of("global_1", relative_uncertainty=0.0), CALM)
    for percent, k in ((1.2, 2.0), (3.0, 2.0), (3.0, 3.0)):
        row = row_of("global_1", relative_uncertainty=percent / 100 / k)
        added = np.sqrt(uncertainty(row, CALM) ** 2 - none**2)
        assert_allclose(added, 2.0 * 500.0 * percent / 100 / k, rtol=1e-9)


@pytest.mark.parametrize("position", ["global_1", "direct_1"])
def test_a_lower_class_is_less_certain(position: str) -> None:
    """A before B before C; an instrument without a class counts as C, the careful side."""
    a, b, c, none = (
        float(uncertainty(row_of(position, iso_class=name), CALM)[0])
        for name in ("A", "B", "C", None)
    )
    assert a < b < c
    assert none == c


def test_directional_error_of_class_a_by_hand() -> None:
    """10 W m-2 at a beam of 1000, rectangular; gone behind a shade (ISO 9060, from memory)."""
    open_, shaded = (
        uncertainty(row_of("global_1", shade=shade), CALM)[0] for shade in ("none", "disc")
    )
    assert np.sqrt(open_**2 - shaded**2) == pytest.approx(2 * 10 / np.sqrt(3), rel=1e-9)


def test_no_beam_in_the_dark() -> None:
    """At night the directional error does not enter, nor what is relative to the value."""
    row = row_of("global_1")
    night, light = uncertainty(row, [0.0, 5.1])
    assert night == pytest.approx(float(uncertainty(row_of("global_1", shade="disc"), [0.0])[0]))
    assert light > night


def test_uncertainty_grows_with_the_irradiance() -> None:
    """Part of it is relative."""
    for position in ("global_1", "diffuse_1", "direct_1"):
        got = uncertainty(row_of(position), [10.0, 200.0, 600.0, 1000.0])
        assert np.all(np.diff(got) > 0), position


def test_pyrgeometer_needs_its_body_temperature() -> None:
    """An error of the body sensor weighs as 4 sigma T**3: more in warmth, nothing known without."""
    row = row_of("sky_1")
    cold, warm = (uncertainty(row, [300.0], body)[0] for body in (240.0, 310.0))
    assert warm > cold > 0
    assert np.isnan(uncertainty(row, [300.0], np.nan)[0])


@pytest.mark.parametrize("position", list(KINDS))
def test_no_value_no_uncertainty(position: str) -> None:
    """NaN where the irradiance is, and only there."""
    got = uncertainty(row_of(position), [np.nan, 300.0])
    assert np.isnan(got).tolist() == [True, False]


# --- timing --------------------------------------------------------------------------------


@pytest.mark.parametrize(("response", "lag"), [(6.0, 2.0), (None, 10.0)])
def test_lag_is_a_third_of_the_response_time(response: float | None, lag: float) -> None:
    """95 % after three time constants (1 - exp(-3) = 0.95); unknown counts as class C, 30 s."""
    assert lag_of(row_of("global_1", response_time=response)) == pytest.approx(lag)


def test_timing_is_worth_nothing_in_steady_light() -> None:
    """However far the clock is out."""
    steady = {"mean": np.full(5, 400.0)}
    assert_allclose(with_timing(np.full(5, 8.0), steady, np.full(5, 25.0), 60.0), 8.0)


def test_timing_in_changing_light_by_hand() -> None:
    """15 s of 60 of a step of 120 W m-2: half-width 30, standard 30 / sqrt 3, expanded twice."""
    light = {"mean": np.array([100.0, 100.0, 220.0, 220.0])}
    got = with_timing(np.full(4, 8.0), light, np.full(4, 15.0), 60.0)
    changing = np.hypot(8.0, 2 * 30 / np.sqrt(3))
    assert_allclose(got, [8.0, changing, changing, 8.0], rtol=1e-12)


def test_timing_takes_the_range_within_the_interval() -> None:
    """A cloud that came and went shows in the extremes only; no residual is no displacement."""
    light = {"mean": np.full(3, 300.0), "min": np.full(3, 200.0), "max": np.full(3, 500.0)}
    got = with_timing(np.full(3, 0.0), light, np.array([6.0, 0.0, np.nan]), 60.0)
    assert_allclose(got, [2 * 30 / np.sqrt(3), 0.0, 0.0], rtol=1e-12)
