"""Figures are tested by the data they draw, not by pixels."""

from __future__ import annotations

import numpy as np
from numpy.testing import assert_allclose

from drawn_minutes import minutes
from sunledger.report import figures
from sunledger.vocabulary import GRADES


def test_closure_of_a_closing_sky_is_zero() -> None:
    """Residual is global less diffuse less direct times cosine; bad minutes are left out."""
    ds = minutes()
    ds["ghi"][3] = 510.0
    ds["dni_grade"][4] = GRADES["bad"]
    found = figures.closure_minutes(ds)
    assert found is not None
    assert found["residual"].size == 2 * 1440 - 1
    assert_allclose(found["residual"][3], 10.0)
    assert_allclose(np.delete(found["residual"], 3), 0.0, atol=1e-9)
    line = figures.closure_scatter(ds).axes[0].lines[0]
    assert_allclose(np.asarray(line.get_xdata()), 500.0)
    over = figures.closure_over_azimuth(ds).axes[0].lines[0]
    assert_allclose(np.asarray(over.get_xdata()), found["azimuth"])


def test_closure_without_sun_or_component_says_so() -> None:
    """Polar night and a lone component give a figure with words and no point."""
    night = figures.closure_scatter(minutes(zenith=110.0)).axes[0]
    assert not night.lines
    assert "no minute" in night.texts[0].get_text()
    assert figures.closure_minutes(minutes().drop_vars("dni")) is None
    assert figures.closure_scatter(minutes().drop_vars("dni")).axes[0].texts


def test_night_offsets_are_medians_of_the_dark() -> None:
    """A night of 1440 dark minutes has the median of its values; by day nothing is drawn."""
    ds = minutes(zenith=110.0)
    ds["ghi"][:] = -2.0
    ds["ghi"][0] = 900.0
    lines = {str(li.get_label()): li for li in figures.night_offsets(ds).axes[0].lines}
    assert_allclose(np.asarray(lines["ghi"].get_ydata()), [-2.0, -2.0])
    assert not figures.night_offsets(minutes()).axes[0].lines


def test_clock_residuals_name_their_logger() -> None:
    """One line a logger."""
    (line,) = figures.clock_residuals(minutes()).axes[0].lines
    assert line.get_label() == "main"
    assert_allclose(np.asarray(line.get_ydata()), 3.0)


def test_every_name_is_a_function_or_what_one_draws() -> None:
    """What the module offers is there."""
    assert all(callable(getattr(figures, name)) for name in figures.__all__)
