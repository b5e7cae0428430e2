"""Gross errors of time and place on the published real month and on generated ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from diagnosed_months import month
from invented_months import Month
from published_month import published_month
from sunledger.diagnosis.month import DiagnosedMonth
from sunledger.diagnosis.symmetry import (
    date_error_shown,
    daylight,
    expected_length,
    explanations,
    gross_errors,
    wrapped,
)


def misplaced(**place: float) -> DiagnosedMonth:
    """The real month as of a station at another place."""
    real = published_month()
    return replace(real, parts=replace(real.parts, **place))


@pytest.mark.parametrize(
    ("hours", "name"),
    [
        (1, "time_zone_error"),
        (-1, "time_zone_error"),
        (5, "time_zone_error"),
        (12, "half_day_error"),
        (-12, "half_day_error"),
    ],
)
def test_hours_off_are_named_on_the_real_month(hours: int, name: str) -> None:
    """By the middle of daylight, and nothing else with them."""
    (found,), verdict = gross_errors(published_month(hours * 3600.0))
    assert found.name == name
    assert abs(wrapped(found.size - hours)) < 0.08
    assert verdict["verdict"] == "gross error"


def test_reversed_longitude_is_named_on_the_real_month() -> None:
    """6.944 degrees east taken for west are 55.6 min, which are not an hour."""
    (found,), _ = gross_errors(misplaced(longitude=-6.944))
    assert found.name == "longitude_reversed"
    assert found.size == pytest.approx(-2 * 6.944 / 15, abs=0.08)
    assert any(n.startswith("time_zone_error") for n in found.cannot_tell)


def test_reversed_latitude_is_named_on_the_real_month() -> None:
    """June days are too long for the south; half a year off would look the same, and it says so."""
    (found,), _ = gross_errors(misplaced(latitude=-46.815))
    assert found.name == "latitude_reversed"
    assert found.cannot_tell == ("a date half a year off",)


def test_the_untouched_real_month_has_none() -> None:
    """Daylight's middle within three minutes of solar noon."""
    found, verdict = gross_errors(published_month())
    assert found == []
    assert abs(verdict["noon_shift_h"][0]) < 0.05
    assert verdict["verdict"] == "no gross error"


@pytest.mark.parametrize(
    ("latitude", "longitude", "start"),
    [(-33.0, 151.0, "2031-01-01"), (20.0, -155.0, "2031-09-01"), (60.0, 179.5, "2031-04-01")],
)
def test_clean_generated_months_have_none(latitude: float, longitude: float, start: str) -> None:
    """At other latitudes and beside the date line."""
    given = Month(start=start, latitude=latitude, longitude=longitude, cloudiness=0.4)
    assert gross_errors(month(given))[0] == []


def test_at_the_equinox_the_hemisphere_cannot_be_told() -> None:
    """So a reversed latitude raises nothing in March."""
    given = month(Month(start="2031-03-10", days=20))
    wrong = replace(given, parts=replace(given.parts, latitude=-46.8))
    found, verdict = gross_errors(wrong)
    assert found == []
    assert abs(verdict["expected_daylight_h"] - verdict["other_hemisphere_daylight_h"]) < 1.0


def test_polar_night_gives_no_verdict() -> None:
    """Nor does a month with too few days."""
    dark = month(Month(start="2031-12-01", days=10, latitude=80.0))
    assert gross_errors(dark)[1]["verdict"] == "not enough evidence"
    assert daylight(month(Month(days=3)).parts) is None


def test_length_of_daylight_is_that_of_the_almanac() -> None:
    """At the equator always about 12 h, less the time to rise by two degrees at either end."""
    parts = month(Month(days=10)).parts
    assert expected_length(parts, 0.0) == pytest.approx(12.0 - 2 * 2.0 / 15 / np.cos(0.4), abs=0.05)


def test_date_errors_show_only_where_days_change() -> None:
    """Within weeks in spring, later in June, never at the equator."""
    spring = date_error_shown(month(Month(start="2031-03-10", days=20)).parts)
    june = date_error_shown(month(Month(days=20)).parts)
    assert spring < june
    assert date_error_shown(month(Month(days=20, latitude=0.0)).parts) is None


def test_two_causes_of_one_size_are_both_given() -> None:
    """At 7.5 degrees east a reversed longitude is exactly one hour."""
    causes = explanations(1.0, 7.5)
    assert {name for name, _ in causes} == {"time_zone_error", "longitude_reversed"}
    assert explanations(0.3, 7.5) == []
    assert explanations(-11.95, 0.0)[0][0] == "half_day_error"
