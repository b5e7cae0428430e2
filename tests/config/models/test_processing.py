"""Settings of the stages: their defaults, and what cannot be set."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from sunledger.config.models.aggregation import AggregateSettings
from sunledger.config.models.processing import (
    DEFAULT_GRADES,
    FlagSettings,
    GradeRule,
    LimitSettings,
    Processing,
    StuckSettings,
)
from sunledger.vocabulary import CONDITIONS, TESTS

LIMITS = {"minimum": -4.0, "factor": 1.5, "exponent": 1.2, "offset": 100.0}


def test_defaults_with_a_published_source() -> None:
    """Sunshine: WMO-No. 8; solar constant: IAU 2015 B3; composite: Roesch et al. 2011, Z > 93."""
    settings = Processing()
    assert settings.aggregate.sunshine_threshold == 120.0
    assert settings.time_correct.solar_constant == 1361.0
    assert settings.aggregate.monthly_method == "diurnal_composite"
    assert settings.aggregate.least_share_bin == 0.2
    assert settings.aggregate.night_zenith == 93.0


def test_missing_and_bad_do_not_count_by_default() -> None:
    """Good, not evaluated and questionable minutes count."""
    counting = AggregateSettings().counting_grades
    assert set(counting) == {"good", "not_evaluated", "questionable"}


def test_missing_can_never_count() -> None:
    """The message lists what can."""
    with pytest.raises(ValidationError, match="good, not_evaluated, questionable, bad"):
        AggregateSettings(counting_grades=("good", "missing"))


@pytest.mark.parametrize("minimum", [100.0, 101.0])
def test_limits_that_contradict_each_other_are_refused(minimum: float) -> None:
    """Both numbers are named."""
    with pytest.raises(ValidationError, match=f"got {minimum}, 100.0"):
        LimitSettings.model_validate(LIMITS | {"minimum": minimum})


@pytest.mark.parametrize("field", ["factor", "exponent"])
def test_limit_coefficients_are_not_negative(field: str) -> None:
    """A negative factor would put the maximum below the minimum when the sun is high."""
    with pytest.raises(ValidationError, match="greater than or equal to 0"):
        LimitSettings.model_validate(LIMITS | {field: -0.1})


def test_limits_are_for_radiometric_quantities() -> None:
    """A wrong name is answered with the right ones."""
    with pytest.raises(ValidationError, match="unknown quantity gih; allowed: ghi, dhi, dni"):
        FlagSettings.model_validate({"limits": {"gih": {"rare": LIMITS}}})


@pytest.mark.parametrize(("field", "known"), [("flags", TESTS), ("conditions", CONDITIONS)])
def test_grade_rules_name_bits_that_exist(field: str, known: dict[str, Any]) -> None:
    """Every wrong bit is named, with all that exist."""
    with pytest.raises(
        ValidationError, match=f"unknown bits soft, hard; allowed: {next(iter(known))}"
    ):
        GradeRule.model_validate({"grade": "bad", field: ["soft", next(iter(known)), "hard"]})


def test_a_reviewer_comes_first_in_the_default_table() -> None:
    """Rejecting before accepting, both before every test."""
    first, second = DEFAULT_GRADES[:2]
    assert (first.grade, first.conditions) == ("bad", ("review_rejected",))
    assert (second.grade, second.conditions) == ("good", ("review_accepted",))
    assert not first.flags
    assert not second.flags


def test_a_single_closure_failure_leaves_the_grade() -> None:
    """It takes three minutes in a row, or steady light."""
    rules = [r for r in DEFAULT_GRADES if "components_disagree" in r.flags]
    assert [(r.persists, r.light) for r in rules] == [(3, "any"), (1, "steady")]


@pytest.mark.parametrize(
    "settings",
    [
        {"aggregate": {"least_share_hourly": 1.1}},
        {"aggregate": {"night_zenith": 80}},
        {"aggregate": {"least_days": 32}},
        {"qc_flag": {"stuck": {"least_run": {"ghi": 361}}}},
        {"qc_flag": {"polarity": {"highest_irradiance": 5}}},
        {"qc_flag": {"grades": [{"grade": "bad", "persists": 61}]}},
        {"calibrate": {"level_tolerance": 0}},
        {"time_correct": {"policy": "guess"}},
    ],
    ids=str,
)
def test_settings_out_of_bounds_are_refused(settings: dict[str, Any]) -> None:
    """The stages' reach rests on the longest run and persistence, so these have bounds too."""
    with pytest.raises(ValidationError):
        Processing.model_validate(settings)


def test_runs_of_other_quantities_keep_their_default() -> None:
    """Naming one quantity does not forget the others; an unknown one is refused."""
    runs = StuckSettings(least_run={"ghi": 30}).least_run
    assert (runs["ghi"], runs["dhi"], runs["lwd"], runs["uv"]) == (30, 20, 20, 20)
    with pytest.raises(ValidationError, match="unknown quantity ghj; allowed: ghi, dhi"):
        StuckSettings(least_run={"ghj": 30})
