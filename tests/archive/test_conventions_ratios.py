"""Ratios name what goes with them and how they were made."""

from __future__ import annotations

import numpy as np
import pytest

from sunledger.archive.conventions_aggregates import AggregateNotes
from sunledger.archive.conventions_ratios import (
    RATIOS,
    clear_minute_variables,
    possible_sunshine,
    ratio_variables,
)

NOTES = AggregateNotes("daily", completeness="withheld where too few count")


@pytest.mark.parametrize("name", RATIOS)
def test_a_ratio_and_what_goes_with_it(name: str) -> None:
    """Without unit; reason, counts and coverage are ancillary; the sums are said to be common."""
    values = {
        "mean": [0.5],
        "withheld": [0],
        "number_of_observations": [700],
        "number_of_missing_observations": [20],
        "coverage_fraction": [0.97],
    }
    ratio, *rest = ratio_variables(name, values, NOTES)
    assert (ratio.name, ratio.attributes["units"]) == (name, "1")
    assert str(ratio.attributes["ancillary_variables"]).split() == [v.name for v in rest]
    assert str(ratio.attributes["comment"]).startswith("ratio of sums over the minutes")
    assert len(rest) == 4
    coverage = next(v for v in rest if v.name.endswith("coverage_fraction"))
    assert coverage.attributes["comment"] == "withheld where too few count"


def test_possible_sunshine_is_a_sum() -> None:
    """In seconds, and over which horizon is said."""
    made = possible_sunshine([36000.0], NOTES)
    assert made.attributes["units"] == "s"
    assert made.attributes["cell_methods"] == "time: sum (interval: 1 minute)"
    assert "90.833" in str(made.attributes["comment"])


def test_an_unknown_ratio_is_refused() -> None:
    """By name."""
    with pytest.raises(KeyError, match="cloudiness"):
        ratio_variables("cloudiness", {"mean": [1.0]}, NOTES)


def test_clear_minutes_say_how_they_were_told() -> None:
    """Both counts with the method and its limits."""
    clear, told = clear_minute_variables(np.array([3, 0]), np.array([5, 0]))
    assert (clear.name, told.name) == ("clear_minutes", "clear_minutes_told")
    assert clear.data.tolist() == [3, 0]
    for variable in (clear, told):
        assert "Long and Ackerman 2000" in str(variable.attributes["comment"])
        assert variable.attributes["cell_methods"] == "time: sum"
