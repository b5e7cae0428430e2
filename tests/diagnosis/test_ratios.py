"""Ratios under clear and dull skies."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sunledger.diagnosis.ratios import day_values, sky_ratios, usual_by_bin
from sunledger.diagnosis.selection import Components


def test_a_factor_on_the_global_shows_in_both_ratios(dry_month: Components) -> None:
    """Every minute and every hour moves by its logarithm, whatever the light."""
    plain = sky_ratios(dry_month)
    more = sky_ratios(replace(dry_month, ghi=dry_month.ghi * 1.01))
    for before, after in zip(plain, more, strict=True):
        both = np.isin(after.middle, before.middle), np.isin(before.middle, after.middle)
        moved = after.log_ratio[both[0]] - before.log_ratio[both[1]]
        assert moved == pytest.approx(np.log(1.01), abs=1e-12)


def test_clear_minutes_have_little_diffuse_and_dull_hours_much(dry_month: Components) -> None:
    """The two kinds of sky are apart."""
    clear, dull = sky_ratios(dry_month)
    assert clear.day.size > 1000
    assert clear.share.max() < 0.6 < dull.share.min()
    assert clear.zenith.max() < 80.0


def test_nights_and_unusable_minutes_give_nothing(dry_month: Components) -> None:
    """A platform that was disturbed says nothing."""
    clear, dull = sky_ratios(replace(dry_month, usable=np.zeros(dry_month.middle.size, bool)))
    assert clear.day.size == dull.day.size == 0
    assert day_values(clear).day.size == 0


def test_days_less_the_usual_are_about_zero(dry_month: Components) -> None:
    """What each position of the sun usually shows is taken off; days differ by 0.2 % at most."""
    clear, _ = sky_ratios(dry_month)
    values = day_values(clear, usual_by_bin(clear))
    assert values.day.size >= 10
    assert np.abs(values.value).max() < 0.004
    assert np.all(values.minutes >= 30)
    assert np.all(np.diff(values.day) > 0)


def test_two_halves_of_the_day_are_kept_apart(dry_month: Components) -> None:
    """Lean is opposite there, so that they are not pooled."""
    clear, _ = sky_ratios(dry_month)
    assert set(np.unique(clear.bins % 2)) == {0, 1}
    west = clear.azimuth > 180.0
    assert np.array_equal(clear.bins % 2 == 1, west)
