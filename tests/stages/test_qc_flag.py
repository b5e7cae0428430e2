"""The three words and the grade: status channels, the rule table, the reviewer."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_array_equal

from clear_day import clear_minutes
from hand_minutes import VALUES, put, quiet_minutes, six_quantities, where
from hand_two_loggers import two_logger_minutes
from sunledger.config.models.processing import DEFAULT_GRADES, GradeRule
from sunledger.stages.qc_flag import LONGEST_PERSISTENCE, REACH, grades, qc_flag
from sunledger.stages.qc_tests import CATALOGUE
from sunledger.vocabulary import CONDITIONS, GRADES, TESTS, mask_of

GOOD, NOT_EVALUATED, QUESTIONABLE, BAD, MISSING = 1, 2, 3, 4, 9


def words(size: int = 5) -> dict[str, np.ndarray]:
    """Nothing failed, something could judge, nothing on record."""
    tested = np.full(size, mask_of(TESTS, "missing", "above_physical_maximum"), np.int32)
    return {
        "flags": np.zeros(size, np.int32),
        "tested": tested,
        "conditions": np.zeros(size, np.int32),
    }


def graded(
    rules: Any = DEFAULT_GRADES, flag: str = "", condition: str = "", at: Any = 2, **more: Any
) -> list[int]:
    """Grades of five minutes, one of which has a flag or a condition."""
    given = words(more.get("size", 5))
    if flag:
        given["flags"][at] |= TESTS[flag].mask
    if condition:
        given["conditions"][at] |= CONDITIONS[condition].mask
    return grades(rules, given["flags"], given["tested"], given["conditions"]).tolist()


# --- the table -----------------------------------------------------------------------------

BAD_FLAGS = (
    "over_range",
    "below_physical_minimum",
    "above_physical_maximum",
    "polarity_reversed",
    "stuck_value",
)
DOUBTS = (
    "calibration_expired",
    "outside_certificate_range",
    "clock_doubtful",
    "level_doubtful",
    "shade_doubtful",
    "thermal_sensor_doubtful",
    "maintenance",
    "tracker_homing",
    "ventilation_off",
    "soiling_recorded",
    "label_conflict",
    "few_samples",
    "shade_band_uncorrected",
)


def test_without_any_bit_a_minute_is_good() -> None:
    """If a test could judge it."""
    assert graded() == [GOOD] * 5


def test_without_any_judgement_it_is_not_evaluated() -> None:
    """That it is there and within range is no judgement."""
    tested = np.full(3, mask_of(TESTS, "missing", "over_range"), np.int32)
    none = np.zeros(3, np.int32)
    assert grades(DEFAULT_GRADES, none, tested, none).tolist() == [NOT_EVALUATED] * 3


@pytest.mark.parametrize("flag", BAD_FLAGS)
def test_bad_flags(flag: str) -> None:
    """What cannot be true is bad, in its minute."""
    assert graded(flag=flag) == [GOOD, GOOD, BAD, GOOD, GOOD]


@pytest.mark.parametrize(
    "flag", ["below_rare_minimum", "longwave_down_against_up", "tracker_off_sun"]
)
def test_questionable_flags(flag: str) -> None:
    """What is very unlikely is questionable."""
    assert graded(flag=flag)[2] == QUESTIONABLE


@pytest.mark.parametrize("condition", DOUBTS)
def test_doubts_are_questionable(condition: str) -> None:
    """What the record doubts is questionable, whatever the values are."""
    assert graded(condition=condition)[2] == QUESTIONABLE


@pytest.mark.parametrize("condition", ["clock_unverified", "interval_doubled", "line_rejected"])
def test_remarks_leave_the_grade(condition: str) -> None:
    """Some conditions only inform."""
    assert graded(condition=condition)[2] == GOOD


def test_missing_comes_before_every_rule() -> None:
    """Also before a reviewer, who cannot accept what is not there."""
    for condition in ("review_accepted", "review_rejected", "maintenance"):
        assert graded(flag="missing", condition=condition)[2] == MISSING


def test_a_reviewer_wins_over_every_test() -> None:
    """Accepted is good and rejected is bad; of both, rejected."""
    assert graded(flag="above_physical_maximum", condition="review_accepted")[2] == GOOD
    assert graded(condition="review_rejected") == [GOOD, GOOD, BAD, GOOD, GOOD]
    given = words()
    given["conditions"][:] = mask_of(CONDITIONS, "review_rejected", "review_accepted")
    got = grades(DEFAULT_GRADES, given["flags"], given["tested"], given["conditions"])
    assert got.tolist() == [BAD] * 5


def test_the_first_rule_that_matches_decides() -> None:
    """The order of the table is its meaning."""
    rules = (
        GradeRule(grade="questionable", flags=("spike",)),
        GradeRule(grade="bad", flags=("spike", "soiled")),
    )
    assert graded(rules, flag="spike")[2] == QUESTIONABLE
    assert graded(rules, flag="soiled")[2] == BAD
    assert graded(rules[::-1], flag="spike")[2] == BAD


@pytest.mark.parametrize(
    ("at", "expected"),
    [
        ([2], [1, 1, 1, 1, 1]),
        ([1, 2], [1, 1, 1, 1, 1]),
        ([1, 2, 3], [1, 3, 3, 3, 1]),
        ([0, 1, 3, 4], [1, 1, 1, 1, 1]),
        ([0, 1, 2, 3, 4], [3, 3, 3, 3, 3]),
    ],
)
def test_closure_has_to_persist(at: list[int], expected: list[int]) -> None:
    """Three minutes in a row, and then all of them; a single failure leaves the grade."""
    assert graded(flag="components_disagree", at=at) == expected


def test_a_rule_may_ask_for_flags_or_conditions() -> None:
    """Either is enough, also to persist."""
    rule = (GradeRule(grade="bad", flags=("spike",), conditions=("few_samples",), persists=2),)
    given = words(4)
    given["flags"][1] = TESTS["spike"].mask
    given["conditions"][2] = CONDITIONS["few_samples"].mask
    got = grades(rule, given["flags"], given["tested"], given["conditions"])
    assert got.tolist() == [GOOD, BAD, BAD, GOOD]


def test_reach_covers_the_longest_settings() -> None:
    """Twelve hours of humidity and two of windows, and a grade that has to persist for 60 min."""
    assert LONGEST_PERSISTENCE == 60 * 60
    assert REACH == 14 * 3600 + LONGEST_PERSISTENCE
    assert max(test.reach for test in CATALOGUE) <= REACH


# --- through the stage ---------------------------------------------------------------------


def flagged(ds: xr.Dataset, settings: dict[str, Any] | None = None) -> xr.Dataset:
    """The minutes with their words."""
    return qc_flag(ds, six_quantities(settings))


def condition(ds: xr.Dataset, quantity: str, name: str) -> list[int]:
    """Minutes with a condition."""
    return np.flatnonzero(ds[f"{quantity}_conditions"].values & CONDITIONS[name].mask).tolist()


def test_every_quantity_gets_its_three_words_and_grade() -> None:
    """With the types of the archive; nothing measured is changed."""
    ds = quiet_minutes()
    out = flagged(ds)
    for quantity in VALUES:
        for word in ("flags", "tested", "conditions"):
            assert out[f"{quantity}_{word}"].dtype == np.int32
        assert out[f"{quantity}_grade"].dtype == np.int8
        assert np.all(out[f"{quantity}_grade"] == GOOD)
    xr.testing.assert_identical(out[list(ds.data_vars)], ds)


def test_a_flag_falls_only_where_the_test_ran() -> None:
    """For every test and quantity, on random values."""
    rng = np.random.default_rng(2)
    size = 400
    ds = quiet_minutes(size, rng.uniform(20, 110, size))
    for quantity in VALUES:
        put(ds, quantity, slice(None), rng.normal(300, 400, size))
        put(ds, quantity, rng.random(size) < 0.2, np.nan)
    out = flagged(ds)
    for quantity in VALUES:
        assert not np.any(out[f"{quantity}_flags"].values & ~out[f"{quantity}_tested"].values)


def test_all_values_missing() -> None:
    """Every minute is missing, and nothing else is said."""
    ds = quiet_minutes(3, values=dict.fromkeys(VALUES, np.nan))
    out = flagged(ds)
    for quantity in VALUES:
        assert_array_equal(out[f"{quantity}_grade"], MISSING)
        assert_array_equal(out[f"{quantity}_flags"], TESTS["missing"].mask)


def test_recorded_conditions_are_kept() -> None:
    """What the time-correct stage knows stays in the word."""
    ds = quiet_minutes()
    ds["ghi_conditions"].values[4] = mask_of(CONDITIONS, "level_doubtful", "interval_doubled")
    out = flagged(ds)
    assert out["ghi_conditions"].values[4] == mask_of(
        CONDITIONS, "level_doubtful", "interval_doubled"
    )
    assert out["ghi_grade"].values[4] == QUESTIONABLE


def test_ventilator_below_its_least_speed() -> None:
    """Only the positions that it serves; unknown speed is no failure."""
    ds = quiet_minutes()
    ds["fan"].values[:4] = [999.0, 1000.0, np.nan, 0.0]
    out = flagged(ds)
    assert condition(out, "ghi", "ventilation_off") == [0, 3]
    assert condition(out, "dhi", "ventilation_off") == []
    assert out["ghi_grade"].values[:4].tolist() == [QUESTIONABLE, GOOD, GOOD, QUESTIONABLE]


def test_tracker_homing_is_a_condition_of_direct_and_diffuse() -> None:
    """It makes them questionable, and leaves the global alone."""
    ds = quiet_minutes()
    ds["tracker_mode"].values[7] = 2.0
    out = flagged(ds)
    for quantity, expected in (("dni", [7]), ("dhi", [7]), ("ghi", []), ("lwd", [])):
        assert condition(out, quantity, "tracker_homing") == expected
    assert out["dni_grade"].values[7] == QUESTIONABLE
    assert out["ghi_grade"].values[7] == GOOD


def test_clocks_apart_is_a_condition_and_no_doubt() -> None:
    """It says why closure did not run; minutes without a value are not marked."""
    ds, resolved = two_logger_minutes(25.0)
    put(ds, "dhi", 3, np.nan)
    out = qc_flag(ds, resolved)
    for quantity in ("ghi", "dhi", "dni"):
        assert condition(out, quantity, "clocks_apart") == [0, 1, 2, 4]
    assert condition(out, "lwd", "clocks_apart") == []
    assert out["ghi_grade"].values.tolist() == [GOOD] * 5


def test_closure_failure_in_steady_light_is_questionable_at_once() -> None:
    """The one that alone left its neighbours is held to be wrong; the other two stay good."""
    ds = quiet_minutes()
    put(ds, "ghi", [3, 4, 20], VALUES["ghi"] * 1.1)
    out = flagged(ds)
    assert_array_equal(np.flatnonzero(out["ghi_grade"].values == QUESTIONABLE), [3, 4, 20])
    for quantity in ("dhi", "dni", "swu"):
        assert np.all(out[f"{quantity}_grade"] == GOOD)


def test_closure_failure_in_changing_light_has_to_persist() -> None:
    """Two minutes pass, four do not; all three share the verdict where nothing tells them apart."""
    ds = quiet_minutes()
    # half a clear sky's light, which comes and goes by the minute
    light = np.where(np.arange(30) % 2, 1.0, 0.5)
    put(ds, "dni", slice(None), 200.0 * light)
    put(ds, "dhi", slice(None), 200.0 * light)
    total = ds["dhi"].values + ds["dni"].values * ds["dni_cosine_zenith"].values
    put(ds, "ghi", slice(None), total)
    put(ds, "ghi", [3, 4, 10, 11, 12, 13], total[[3, 4, 10, 11, 12, 13]] * 1.1)
    out = flagged(ds)
    failed = {q: where(out, q, "components_disagree") for q in ("ghi", "dhi", "dni")}
    for quantity in ("ghi", "dhi", "dni"):
        assert_array_equal(np.flatnonzero(failed[quantity]), [3, 4, 10, 11, 12, 13])
        got = np.flatnonzero(out[f"{quantity}_grade"].values == QUESTIONABLE)
        assert_array_equal(got, [10, 11, 12, 13])


def test_grade_table_of_the_configuration_decides() -> None:
    """Another table, other grades; the words stay."""
    ds = quiet_minutes()
    put(ds, "swu", 5, -3.0)
    rule = {"grade": "bad", "flags": ["below_rare_minimum"]}
    out = flagged(ds, {"qc_flag": {"grades": [rule]}})
    assert out["swu_grade"].values[5] == BAD
    assert flagged(ds)["swu_grade"].values[5] == QUESTIONABLE
    assert_array_equal(out["swu_flags"], flagged(ds)["swu_flags"])


def test_every_grade_is_one_of_the_scheme() -> None:
    """Nothing else is ever written."""
    ds = quiet_minutes()
    put(ds, "ghi", [0, 5], np.nan)
    assert set(np.unique(flagged(ds)["ghi_grade"])) <= set(GRADES.values())


def test_flags_do_not_depend_on_the_cut() -> None:
    """Three changeable days whole, and in pieces of 400 min with a halo of the declared reach."""
    size, halo = 3 * 1440, REACH // 60
    rng = np.random.default_rng(3)
    turn = 2 * np.pi * np.arange(size) / 1440
    ds = clear_minutes(size, 95.0 + 55.0 * np.cos(turn))
    shade = np.repeat(rng.choice([0.0, 0.02, 0.5, 1.0], size // 20), 20)
    put(ds, "dni", slice(None), ds["dni"].values * shade)
    put(ds, "ghi", slice(None), ds["ghi"].values * rng.choice([0.5, 1.0, 1.0, 1.1], size))
    ds["relative_humidity"] = ("time", np.repeat(rng.random(size // 60), 60))
    whole, raised_somewhere = flagged(ds), 0
    for start in range(0, size, 400):
        end = min(size, start + 400)
        first = max(0, start - halo)
        part = flagged(ds.isel(time=slice(first, min(size, end + halo))))
        for quantity in VALUES:
            for word in ("flags", "tested", "grade"):
                name = f"{quantity}_{word}"
                expected = whole[name].values[start:end]
                assert_array_equal(part[name].values[start - first : end - first], expected)
                raised_somewhere |= int(np.bitwise_or.reduce(expected)) if word == "flags" else 0
    assert raised_somewhere & TESTS["components_disagree"].mask
    assert raised_somewhere & TESTS["pyrheliometer_off_sun"].mask
