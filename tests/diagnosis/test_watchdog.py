"""The sun as watchdog: what it finds, what it leaves, what it cannot tell apart."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from diagnosed_months import month
from invented_months import Month, month_of, step_at
from published_month import published_month
from sunledger.diagnosis.closure_days import moments_of_rows, rows_of
from sunledger.diagnosis.watchdog import (
    CAUSES,
    NOT_ENOUGH,
    SEASON,
    as_seconds,
    changes,
    constant_terms,
    recorded_settings,
)

FIRST = float(np.datetime64("2031-06-01", "s").astype(np.int64))
MIDDLE = FIRST + 15 * 86400
CLEARISH = Month(cloudiness=0.2, seed=4)


def test_a_clock_error_looks_like_the_published_lean() -> None:
    """60 s are 0.171 degree at latitude 46.8 (0.25 degree times the cosine), slow toward east."""
    # the mean sun goes 15 degrees an hour, of which the lean is the east-west part
    assert as_seconds(np.radians(0.25 * np.cos(np.radians(46.8))), 46.8) == pytest.approx(-60.0)
    assert as_seconds(np.radians(0.171), 46.8) == pytest.approx(-60.0, abs=0.3)


def test_a_step_of_the_clock_is_found_with_its_size_and_onset() -> None:
    """120 s fast from the middle of the month: named with both causes and nothing corrected."""
    (found,), verdict = changes(month(replace(CLEARISH, clock=step_at(MIDDLE, 120.0))))
    assert found.name == "clock_or_east_lean_step"
    assert found.size == pytest.approx(120.0, abs=45.0)
    assert found.lower < 120.0 < found.upper
    assert abs(found.onset - MIDDLE) < 2 * 86400
    assert found.cannot_tell == CAUSES[:2]
    assert verdict["verdict"] == "changed"


def test_a_lean_toward_the_east_reads_as_a_slow_clock() -> None:
    """The same signature: minus as many seconds."""
    (found,), _ = changes(month(replace(CLEARISH, east=step_at(MIDDLE, 0.5))))
    assert found.name == "clock_or_east_lean_step"
    assert found.evidence["lean_degree"][0] == pytest.approx(0.5, abs=0.15)
    assert found.size == pytest.approx(as_seconds(np.radians(0.5), 46.8), abs=45.0)


def test_a_slanted_lean_states_its_north_part() -> None:
    """0.5 degree east and 0.4 north; an error of the clock has none and says nothing of it."""
    slanted = replace(CLEARISH, east=step_at(MIDDLE, 0.5), north=step_at(MIDDLE, 0.4))
    (found,), _ = changes(month(slanted))
    north, half = found.evidence["north_lean_degree"]
    assert abs(north - 0.4) < half < 0.25
    assert "a north part of +0." in found.action
    (clock,), _ = changes(month(replace(CLEARISH, clock=step_at(MIDDLE, 120.0))))
    north, half = clock.evidence["north_lean_degree"]
    assert abs(north) < half
    assert "north part" not in clock.action


def test_a_drift_is_told_from_a_step() -> None:
    """10 s a day over the month."""
    given = replace(CLEARISH, clock=lambda t: 10.0 * (t - FIRST) / 86400)
    (found,), _ = changes(month(given))
    assert found.name == "clock_or_east_lean_drift"
    assert found.size == pytest.approx(10.0, abs=3.0)


def test_a_clean_month_raises_nothing() -> None:
    """And constants are listed with every cause, never as a finding."""
    clean = month(CLEARISH)
    assert changes(clean)[0] == []
    found, verdict = constant_terms(clean)
    assert found == []
    assert verdict["cannot_tell"] == list(CAUSES)


@pytest.mark.parametrize("longitude_error", [0.25, -0.25])
def test_a_wrong_longitude_is_among_the_causes_of_a_constant(longitude_error: float) -> None:
    """0.25 degree are 60 s: the size as a longitude error is given, and nothing is found."""
    parts = month_of(CLEARISH)
    given = month(CLEARISH)
    wrong = replace(parts, longitude=parts.longitude + longitude_error)
    found, verdict = constant_terms(replace(given, parts=wrong))
    size, width = verdict["as_longitude_error_degree"]
    assert size == pytest.approx(longitude_error, abs=0.15)
    assert abs(size - longitude_error) < 1.5 * width
    assert CAUSES[3] in verdict["cannot_tell"]
    assert found == changes(replace(given, parts=wrong))[0] == []


def test_the_other_label_convention_is_among_the_causes_of_a_constant() -> None:
    """Labels taken for starts that are ends: 60 s fast, all month."""
    parts = month_of(CLEARISH)
    given = month(CLEARISH)
    wrong = replace(parts, middle=parts.middle + 60.0)
    found, verdict = constant_terms(replace(given, parts=wrong))
    assert verdict["as_clock_error_s"][0] == pytest.approx(60.0, abs=30.0)
    assert verdict["label_convention_would_be_s"] == [-60, 60]
    assert CAUSES[2] in verdict["cannot_tell"]
    assert found == []


def test_three_days_are_not_enough_for_a_change() -> None:
    """And an overcast month not for a constant either."""
    assert changes(month(Month(days=3, cloudiness=-1.0)))[1]["verdict"] == NOT_ENOUGH
    assert constant_terms(month(Month(days=3, cloudiness=3.0)))[1] == {"verdict": NOT_ENOUGH}


def _check(found: float) -> dict[str, object]:
    return {
        "id": "ck-1",
        "type": "clock_check",
        "time": "2031-06-16",
        "logger": "main",
        "role": "station keeper",
        "found": found,
        "left": 0.0,
    }


def test_a_recorded_setting_that_the_sun_does_not_follow() -> None:
    """Right: nothing is left of it. Wrong by 180 s: the check is named, with its logger."""
    found, verdict = recorded_settings(month(CLEARISH, [_check(180.0)]))
    assert found == []
    assert verdict["ck-1"]["verdict"] == "agrees within the interval"
    given = replace(CLEARISH, clock=step_at(MIDDLE, 180.0))
    (wrong,), verdict = recorded_settings(month(given, [_check(180.0)]))
    assert (wrong.name, wrong.target) == ("clock_check_contradicted", "main")
    assert "ck-1" in wrong.action
    assert wrong.size == pytest.approx(180.0, abs=45.0)
    assert verdict["ck-1"]["recorded_s"] == -180.0


def test_a_setting_without_evidence_is_left_open() -> None:
    """Three days of data around it."""
    given = replace(CLEARISH, start="2031-06-15", days=3)
    assert recorded_settings(month(given, [_check(5.0)]))[1] == {"ck-1": {"verdict": NOT_ENOUGH}}
    dark = replace(given, cloudiness=5.0)
    assert recorded_settings(month(dark, [_check(5.0)]))[1] == {"ck-1": {"verdict": NOT_ENOUGH}}


def test_a_change_at_the_turn_of_a_month_is_found_from_the_month_before() -> None:
    """Neither month alone has a step in it; both since the last check have."""
    before = Month(start="2031-05-01", days=31, cloudiness=0.2, seed=8)
    late = replace(CLEARISH, clock=step_at(0.0, 120.0))
    checked = _check(0.0) | {"time": "2031-04-20"}
    alone = month(late, [checked])
    assert changes(alone)[0] == []
    given = replace(alone, days_before=moments_of_rows(rows_of(month(before).moments)))
    (found,), verdict = changes(given)
    assert found.name == "clock_or_east_lean_step"
    assert found.size == pytest.approx(120.0, abs=45.0)
    assert abs(found.onset - FIRST) < 2 * 86400
    assert verdict["since"] == found.evidence["since"]
    assert verdict["since"]["id"] == "ck-1"
    assert "the last check before it is clock check ck-1 of 2031-04-20 00:00" in found.action
    assert verdict["data_from"].startswith("2031-05-01")
    assert found.evidence["minutes_before"] > 3000


def test_a_slow_drift_over_two_months_is_told_since_its_check() -> None:
    """2 s a day are within the noise of a month."""
    begin = FIRST - 31 * 86400
    slow = {"clock": lambda t: 2.0 * (t - begin) / 86400, "cloudiness": 0.2}
    before = month(Month(start="2031-05-01", days=31, seed=8, **slow))
    given = replace(month(Month(seed=4, **slow)), days_before=before.moments)
    verdict = changes(given)[1]
    size, width = verdict["east_drift_s_per_day"]
    assert abs(size - 2.0) < width < 1.5
    # two months of data: the path of the sun has changed too, in one month it has not
    assert verdict["cannot_tell"] == [*CAUSES[:2], SEASON]
    assert changes(before)[1]["cannot_tell"] == list(CAUSES[:2])


def _level(left: float) -> dict[str, object]:
    plain = {"id": "lc-1", "type": "level_check", "time": "2031-06-16", "position": "global_1"}
    return plain | {"role": "technician", "found": {"size": 0.6}, "left": {"size": left}}


def test_a_lean_that_the_record_says_was_put_right_is_no_finding() -> None:
    """The level check that moved the global is a break; one that moved nothing is none."""
    given = replace(CLEARISH, east=step_at(MIDDLE, 0.6))
    assert changes(month(given, [_level(0.0)]))[0] == []
    (found,), _ = changes(month(given, [_level(0.6)]))
    assert found.evidence["since"]["id"] == "lc-1"
    assert changes(month(CLEARISH, [_level(0.0)]))[0] == []


def test_a_clock_set_at_the_visit_that_levelled_cannot_be_judged() -> None:
    """What is left of its step may be the lean."""
    found, verdict = recorded_settings(month(CLEARISH, [_check(180.0), _level(0.0)]))
    assert (found, verdict["ck-1"]) == ([], {"verdict": NOT_ENOUGH})


def test_the_untouched_real_month_raises_nothing() -> None:
    """Its constant east term of -0.18 degree is listed, and is nobody's to repair."""
    real = published_month()
    assert changes(real)[0] == []
    east, width = constant_terms(real)[1]["east_degree"]
    assert east == pytest.approx(-0.18, abs=0.03)
    assert width < 0.2


@pytest.mark.parametrize(
    ("step", "day"), [(120.0, "2016-06-23"), (-120.0, "2016-06-24T12:00"), (120.0, "2016-06-27")]
)
def test_a_step_in_the_real_month_is_found(step: float, day: str) -> None:
    """With four clear days on the poorer side: size within 45 s, half-width at most 75 s."""
    time = published_month().parts.middle
    when = float(np.datetime64(day, "s").astype(np.int64))
    (found,), _ = changes(published_month(np.where(time >= when, step, 0.0)))
    assert found.name == "clock_or_east_lean_step"
    assert found.size == pytest.approx(step, abs=45.0)
    assert found.upper - found.lower <= 150.0
    assert found.lower <= step <= found.upper


@pytest.mark.parametrize("rate", [10.0, -10.0])
def test_a_drift_in_the_real_month_has_its_slope(rate: float) -> None:
    """10 s a day either way: found by its name, slope within 3 s a day."""
    time = published_month().parts.middle
    (found,), verdict = changes(published_month(rate * (time - time[0]) / 86400))
    assert verdict["east_drift_s_per_day"][0] == pytest.approx(rate, abs=3.0)
    assert found.name == "clock_or_east_lean_drift"
