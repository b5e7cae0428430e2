"""Gross errors of time and place on the published real month and on generated ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from diagnosed_months import month
from invented_months import Month
from published_month import published_month
from sunledger.diagnosis.month import DiagnosedMonth
from sunledger.diagnosis.selection import Components
from sunledger.diagnosis.symmetry import (
    DATE_ERRORS,
    LEAST_ROUGH,
    ROUGH,
    date_error_shown,
    daylight,
    expected_length,
    explanations,
    gross_errors,
    rough_lengths,
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
    spring, june, equator = (
        shown(**given) for given in ({"start": "2031-03-10"}, {}, {"latitude": 0.0})
    )
    assert spring < june
    assert equator is None


def shown(**given: object) -> int | None:
    """Smallest date error that shows in twenty days."""
    parts = month(Month(days=20, **given)).parts
    return date_error_shown(parts, expected_length(parts, parts.latitude))


@pytest.mark.parametrize("days", [3, 17, 30])
@pytest.mark.parametrize(("latitude", "longitude"), [(0.0, 10.0), (-59.9, 179.0), (46.8, -120.0)])
def test_rough_lengths_meet_those_by_samples(days: int, latitude: float, longitude: float) -> None:
    """Within what is said of them, in all seasons, for stretches that begin and end in the day too.

    Against the full sun at every sample, and what follows from both is the same.
    """
    for start in np.datetime64("2031-01-01T00", "h") + 5 * 137 * np.arange(13):
        parts = place(str(start), days, latitude, longitude)
        rough = rough_lengths(parts, latitude, np.array([0, 45]))
        assert rough is not None
        exact = [expected_length(parts, latitude, off) for off in (0, 45)]
        assert rough == pytest.approx(exact, abs=0.5 * ROUGH)
        now = exact[0]
        moved = {
            off: [abs(expected_length(parts, latitude, s * off) - now) for s in (-1, 1)]
            for off in DATE_ERRORS
        }
        first = next((off for off, both in moved.items() if min(both) >= 1.0), None)
        assert date_error_shown(parts, now) == first


def test_near_the_poles_nothing_is_rough() -> None:
    """There the sun may graze the horizon for hours."""
    assert rough_lengths(place("2031-05-01", 30, 69.0, 20.0), 69.0, np.array([7])) is None


@pytest.mark.parametrize("latitude", [0.0, 45.0, -52.0, 60.0])
def test_of_short_stretches_nothing_is_rough(latitude: float) -> None:
    """From the least length on within what is said of them, whenever they begin; below, none."""
    for start in np.datetime64("2031-01-01T00", "h") + 137 * np.arange(64):
        parts = place(str(start), LEAST_ROUGH / 86400 + 0.001, latitude, 10.0)
        rough = rough_lengths(parts, latitude, np.array([0]))
        assert rough is not None
        assert abs(rough[0] - expected_length(parts, latitude)) < ROUGH
    for days in (LEAST_ROUGH / 86400 - 0.001, 0.25):
        short = place("2031-05-01", days, latitude, 10.0)
        assert rough_lengths(short, latitude, np.array([0])) is None


def place(start: str, days: float, latitude: float, longitude: float) -> Components:
    """A stretch of minutes without values."""
    first = np.datetime64(start, "s").astype(np.int64)
    middle = first + 30.0 + 60.0 * np.arange(round(1440 * days))
    dark = np.zeros(middle.size)
    usable = np.ones(middle.size, dtype=bool)
    return Components(middle, 60, dark, dark, dark, usable, latitude, longitude, 0.0)


def test_two_causes_of_one_size_are_both_given() -> None:
    """At 7.5 degrees east a reversed longitude is exactly one hour."""
    causes = explanations(1.0, 7.5)
    assert {name for name, _ in causes} == {"time_zone_error", "longitude_reversed"}
    assert explanations(0.3, 7.5) == []
    assert explanations(-11.95, 0.0)[0][0] == "half_day_error"
