"""Suggestions for a reviewer: the longest stretches, as entries that load."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from sunledger.config.loading import load_model
from sunledger.config.models.review import Review
from sunledger.errors import SunledgerError
from sunledger.run.review import flagged_stretches, stretches_of, suggestions
from sunledger.vocabulary import CONDITIONS, TESTS

START = 1931385600  # 2031-03-16 00:00 UTC


def minutes(**grades: dict[int, int]) -> xr.Dataset:
    """An hour of good minutes, some of them with another grade and a flag."""
    out: dict[str, object] = {}
    for quantity, given in grades.items():
        grade, flags = np.ones(60, np.int8), np.zeros(60, np.int32)
        for at, value in given.items():
            grade[at], flags[at] = value, TESTS["spike"].mask
        out[f"{quantity}_grade"] = ("time", grade)
        out[f"{quantity}_flags"] = ("time", flags)
        out[f"{quantity}_conditions"] = ("time", np.zeros(60, np.int32))
    return xr.Dataset(out, coords={"time": (START + 60 * np.arange(60)).astype("M8[s]")})


def test_short_gaps_do_not_part_a_stretch() -> None:
    """Five good minutes are bridged, six are not."""
    doubted = np.zeros(30, bool)
    doubted[[2, 8, 15]] = True
    starts, ends = stretches_of(doubted)
    assert starts.tolist() == [2, 15]
    assert ends.tolist() == [9, 16]


def test_longest_first_and_only_so_many() -> None:
    """Questionable and bad count, missing and not evaluated do not."""
    ds = minutes(ghi=dict.fromkeys(range(5), 3), dni=dict.fromkeys(range(20, 30), 4))
    ds["ghi_grade"].values[40:60] = 9
    found = flagged_stretches(ds, 5)
    assert [(s.quantity, s.start - START, s.end - START) for s in found] == [
        ("dni", 1200, 1800),
        ("ghi", 0, 300),
    ]
    assert found[0].reasons == (("spike", 10),)
    assert len(flagged_stretches(ds, 1)) == 1


def test_what_was_reviewed_is_not_suggested_again() -> None:
    """Neither accepted nor rejected intervals."""
    ds = minutes(ghi=dict.fromkeys(range(5), 4))
    ds["ghi_conditions"].values[:5] = CONDITIONS["review_rejected"].mask
    assert flagged_stretches(ds, 5) == ()


def test_suggestions_load_as_a_review(tmp_path: Path) -> None:
    """Ready-made: the loader accepts them as they stand."""
    file = tmp_path / "minutes.nc"
    minutes(ghi=dict.fromkeys(range(5), 3)).to_netcdf(file)
    lines = suggestions(file, 3, "reviewer", "2031-04-01 00:00:00")
    target = tmp_path / "review.yaml"
    target.write_text("\n".join(lines) + "\n", encoding="utf-8")
    (decision,) = load_model(target, Review).decisions
    assert (decision.time, decision.until) == (START, START + 300)
    assert decision.quantities == ("ghi",)
    assert "spike 5" in decision.reason


def test_nothing_flagged_gives_an_empty_list(tmp_path: Path) -> None:
    """And a file that is not there is an error in words."""
    file = tmp_path / "minutes.nc"
    minutes(ghi={}).to_netcdf(file)
    assert suggestions(file, 3, "reviewer", "2031-04-01") == ["decisions: []"]
    with pytest.raises(SunledgerError, match="no such minute file"):
        suggestions(tmp_path / "none.nc", 3, "reviewer", "2031-04-01")
