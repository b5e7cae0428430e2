"""Months with every error drawn: nothing is left out, and the interval holds the truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import drawn_month
from drawn_month import (
    ENTERS,
    FOUR,
    Shared,
    errors_of,
    measured,
    resolved,
    shape,
    sky_of,
    unit_draw,
)
from sunledger.stages.aggregate import aggregates
from sunledger.stages.budgets import components_of

DAYS, INTERVAL = 2, 600
ELSEWHERE = {"calibration", "logger_gain", "clock", "logger_resolution"}
"""Drawn for all instruments together, in the light, or written as digits."""


def test_every_component_of_every_budget_is_drawn() -> None:
    """None is missing and none is drawn that no budget has."""
    rows = resolved(0, DAYS, INTERVAL).coefficients
    names = {part.name for row in rows for part in components_of(row)}
    assert names == set(ENTERS) | ELSEWHERE


@pytest.mark.parametrize("name", sorted(ENTERS))
def test_each_draw_changes_what_is_read(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """With all other widths at zero the errors are not."""

    def alone(row):  # type: ignore[no-untyped-def]
        kept = (replace(c, width=c.width if c.name == name else 0.0) for c in components_of(row))
        return tuple(c for c in kept if c.name not in ELSEWHERE)

    monkeypatch.setattr(drawn_month, "components_of", alone)
    sky = sky_of(resolved(0, 4, INTERVAL), INTERVAL, np.random.default_rng(5))
    found = [
        errors_of(q, sky, Shared(0.0, 0.0, 0.0), shaped, np.random.default_rng(6))
        for q in FOUR
        for shaped in (False, True)
    ]
    assert any(np.abs(part).max() > 0 for one in found for part in vars(one).values())


def test_shapes_stay_within_the_limits() -> None:
    """Between -1 and 1, so that a class limit is never passed."""
    sky = sky_of(resolved(1, DAYS, INTERVAL), INTERVAL, np.random.default_rng(1))
    for name in ENTERS:
        curve = shape(name, sky, 1.5 * sky.truth["ghi"], np.random.default_rng(2))
        assert curve is None or np.abs(curve).max() <= 1.0


@pytest.mark.parametrize(
    ("law", "spread"),
    [("normal", 0.5), ("rectangular", 3**-0.5), ("triangular", 6**-0.5)],
)
def test_laws(law: str, spread: float) -> None:
    """Standard deviations of a width of 1 (JCGM 100:2008, 4.3.7 and 4.3.9; k = 2)."""
    drawn = unit_draw(law, 100_000, np.random.default_rng(3))
    assert drawn.std() == pytest.approx(spread, rel=0.01)


def test_without_errors_the_truth_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """Within half a step of the written voltage: 0.05 uV over the sensitivity, and of 2**-7."""
    monkeypatch.setattr(drawn_month, "components_of", lambda row: ())
    rng = np.random.default_rng(4)
    sky = sky_of(resolved(1, DAYS, INTERVAL), INTERVAL, rng)
    ds = measured(sky, False, False, rng)
    for quantity in FOUR:
        error = ds[quantity].values - sky.truth[quantity]
        assert np.abs(error).max() <= 0.05 / 4.0 + 1e-6


def test_the_interval_holds_the_truth_and_half_of_it_does_not() -> None:
    """24 draws: about 95 % of values; half the interval would hold far fewer."""
    inside = []
    for seed in range(24):
        rng = np.random.default_rng([7, seed])
        sky = sky_of(resolved(seed, DAYS, INTERVAL), INTERVAL, rng)
        ds = measured(sky, False, False, rng)
        lit = sky.zenith < 80.0
        for quantity in FOUR:
            error = np.abs(ds[quantity].values - sky.truth[quantity])[lit]
            stated = ds[f"{quantity}_uncertainty"].values[lit]
            inside.append([(error <= part * stated).mean() for part in (1.0, 0.5)])
    whole, half = np.mean(inside, axis=0)
    assert 0.91 <= whole <= 0.99
    assert 0.55 <= half <= 0.80


def test_widths_lie_between_the_targets_and_the_moderate_line() -> None:
    """Archived values of a class A set under a clear sky, minutes, hours and days.

    Not below half the 2004 targets of WCRP-121, table 2.1, p. 10 (minutes, sun above 20 degrees);
    not above the moderate line of WMO-No. 8 for hours and days, 20 and 10 % (quoted 1996 table), of
    those with at least half of the most light.
    """
    period = resolved(1, 4, INTERVAL)
    rng = np.random.default_rng(8)
    sky = sky_of(period, INTERVAL, rng)
    ds = measured(sky, False, False, rng)
    clear = (sky.truth["dni"] > 600.0) & (sky.zenith < 70.0)
    assert clear.sum() > 20
    targets = {"ghi": (0.02, 5.0), "dhi": (0.02, 3.0), "dni": (0.005, 1.5), "lwd": (0.02, 3.0)}
    for quantity, (share, least) in targets.items():
        stated = ds[f"{quantity}_uncertainty"].values[clear]
        target = np.maximum(share * ds[quantity].values[clear], least)
        assert (stated >= 0.5 * target).all()
    for product, line in (("hourly", 0.20), ("daily", 0.10)):
        out = aggregates(ds, period, (product,))[product]
        for quantity in ("ghi", "dhi", "dni", "ghi_component_sum"):
            value = out[quantity].values
            lit = value > 0.5 * np.nanmax(value)
            share = out[f"{quantity}_uncertainty"].values[lit] / value[lit]
            assert lit.sum() >= (2 if product == "daily" else 10)
            assert share.max() < line
