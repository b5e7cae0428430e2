"""Year files of a real run: what they hold, how it was made, and that the checkers agree."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import small_project
from archive.compliance import unexpected
from sunledger.archive.aggregate_products import PERIOD_WORDS, RESOLUTIONS
from sunledger.archive.conventions_aggregates import SOURCES
from sunledger.vocabulary import GRADES

# CF has no names for shares of minutes, nor for radiant exposures along the beam or from the sky.
MEASURED = ("ghi", "dhi", "dni")
FORMED = ("dni_horizontal", "ghi_component_sum", "ghi_selected")
RATIOS = ("clearness_index", "diffuse_fraction", "relative_sunshine")
OTHERS = ("air_temperature", "sunshine_duration")
NAMELESS = [
    *(f"{name}_coverage_fraction" for name in (*MEASURED, *FORMED, *RATIOS, *OTHERS)),
    *("dhi_exposure", "dni_exposure", "dni_horizontal_exposure"),
    *(f"{name}_share_{grade}" for name in (*MEASURED, "air_temperature") for grade in GRADES),
    *(f"ghi_selected_share_{source}" for source in SOURCES),
    *(*RATIOS, "possible_sunshine_duration", "clear_minutes", "clear_minutes_told"),
]
PERIODS = {"hourly": 61 * 24, "daily": 61, "monthly": 2}


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Station folder of the small project's archive; not to be changed."""
    workflow = small_project.made_once(tmp_path_factory.getbasetemp())
    return workflow.parent / "archive" / small_project.STATION


def opened(archive: Path, product: str) -> xr.Dataset:
    """A year file."""
    path = archive / product / f"tst_{product}_2031.nc"
    with xr.open_dataset(path, decode_timedelta=False) as ds:
        return ds.load()


@pytest.mark.slow
def test_days_pass_the_checkers(archive: Path) -> None:
    """Nothing but the checker's known mistake, and what CF has no name for."""
    assert unexpected(archive / "daily" / "tst_daily_2031.nc", NAMELESS) == []


@pytest.mark.parametrize("product", PERIODS)
def test_periods_without_a_gap(archive: Path, product: str) -> None:
    """Every hour, day and month of June and July once; bounds touch each other."""
    ds = opened(archive, product)
    assert ds.sizes["time"] == PERIODS[product]
    bounds = ds["time_bounds"].values
    np.testing.assert_array_equal(bounds[1:, 0], bounds[:-1, 1])
    np.testing.assert_array_equal(bounds[:, 0], ds["time"].values)
    assert str(bounds[-1, 1]).startswith("2031-08-01T00:00")
    assert ds.attrs["time_coverage_resolution"] == RESOLUTIONS[product]
    assert product in RESOLUTIONS.keys() & PERIOD_WORDS.keys()


def test_days_follow_from_hours(archive: Path) -> None:
    """On the complete days the mean of 24 hours, and the exposure of the mean."""
    hours, days = opened(archive, "hourly"), opened(archive, "daily")
    whole = np.flatnonzero(days["ghi"].notnull().values)
    assert whole.tolist() == [28, 29, 30]
    means = hours["ghi"].values.reshape(-1, 24)[whole].astype(float).mean(axis=1)
    # the first day misses one minute of night: 24 hours weigh alike only to 400 / 1440 W m-2
    np.testing.assert_allclose(days["ghi"].values[whole], means, rtol=0, atol=0.3)
    np.testing.assert_allclose(days["ghi"].values[whole][1:], means[1:], rtol=0, atol=0.02)
    exposure = days["ghi_exposure"]
    seconds = {"J m-2": 86400.0, "MJ m-2": 0.0864}[exposure.units]
    np.testing.assert_allclose(
        exposure.values[whole], days["ghi"].values[whole] * seconds, rtol=1e-4
    )


def test_how_little_there_was_is_said(archive: Path) -> None:
    """Days without data are withheld; of a month of two days the share is told beside the value."""
    days, months = opened(archive, "daily"), opened(archive, "monthly")
    assert int(days["ghi"].isnull().sum()) == 61 - 3
    shares = months["ghi_coverage_fraction"].values
    np.testing.assert_allclose(shares, [2879 / (30 * 1440), 1440 / (31 * 1440)], atol=1e-4)


@pytest.mark.parametrize("product", PERIODS)
def test_how_it_was_made_is_said(archive: Path, product: str) -> None:
    """Method, counting grades and completeness stand at the variable."""
    ds = opened(archive, product)
    names = ("ghi", "ghi_coverage_fraction")
    attributes = " ".join(str(v) for name in names for v in ds[name].attrs.values())
    assert "good, not_evaluated, questionable" in attributes
    if product == "monthly":
        assert "Roesch et al. 2011" in attributes
    else:
        share = {"hourly": "0.5", "daily": "0.9"}[product]
        assert f"less than {share} of the minutes" in attributes
