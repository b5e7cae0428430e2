"""Dirt, cleaning and frost."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from faults.domes import soiled
from generated_month import generated_month
from sunledger.diagnosis.ratios import sky_ratios
from sunledger.diagnosis.selection import Components
from sunledger.diagnosis.soiling import (
    cleaning_step,
    frost_mornings,
    monthly_cost,
    soiling_drift,
    without_loss,
)
from sunledger.diagnosis.subject import subject_of


def halves(parts: Components, cut: float):  # type: ignore[no-untyped-def]
    """Ratios on both sides of an instant."""
    clear, dull = sky_ratios(parts)
    before = clear.where(clear.middle < cut), dull.where(dull.middle < cut)
    return before, (clear.where(clear.middle >= cut), dull.where(dull.middle >= cut))


@pytest.mark.parametrize("name", ["ghi", "dhi", "dni"])
def test_the_step_at_a_cleaning(dry_month: Components, name: str) -> None:
    """Two percent of one instrument, named with its size and its cost."""
    cut = float(dry_month.middle[0]) + 15 * 86400
    dirty = replace(
        dry_month,
        **{name: getattr(dry_month, name) * np.where(dry_month.middle < cut, 0.98, 1.0)},
    )
    subject = subject_of(dirty, "kpn", "2031-08")
    found = cleaning_step(subject, *halves(dirty, cut))[2]
    assert found is not None
    assert (found.name, found.target) == ("cleaning_step", name)
    assert found.lower < 2.0 < found.upper
    assert found.effect < 0
    assert "not observable" in str(found.evidence["limit"])


def test_equal_dirt_and_clean_domes_show_no_step(dry_month: Components) -> None:
    """What is equal on all three cannot be observed."""
    cut = float(dry_month.middle[0]) + 15 * 86400
    loss = np.where(dry_month.middle < cut, 0.95, 1.0)
    equal = replace(
        dry_month, ghi=dry_month.ghi * loss, dhi=dry_month.dhi * loss, dni=dry_month.dni * loss
    )
    subject = subject_of(dry_month, "kpn", "2031-08")
    for parts in (dry_month, equal):
        assert cleaning_step(subject, *halves(parts, cut))[2] is None


def test_reading_less_after_a_cleaning_is_no_dirt(dry_month: Components) -> None:
    """It is left to the finding of a changed sensitivity."""
    cut = float(dry_month.middle[0]) + 15 * 86400
    loss = np.where(dry_month.middle < cut, 1.0, 0.98)
    worse = replace(dry_month, ghi=dry_month.ghi * loss)
    _, verdict, found = cleaning_step(subject_of(worse, "kpn", "m"), *halves(worse, cut))
    assert (verdict.cause, found) == ("ghi", None)


def test_dirt_that_grows_is_a_drift() -> None:
    """The generator's own fault: 4 % of the direct over the month."""
    start = float(np.datetime64("2031-08-01", "s").astype(int))
    dirty = generated_month(
        "kpn",
        11,
        "2031-08-01",
        fault=lambda light: soiled(light, start - 86400, start + 30 * 86400, "dni", 0.04),
    )
    subject = subject_of(dirty, "kpn", "2031-08")
    found = soiling_drift(subject, [sky_ratios(dirty)], start, 0.0)[2]
    assert found is not None
    assert (found.name, found.target) == ("soiling_drift", "dni")
    first, last = found.evidence["seen"]
    assert found.lower < -4.0 * (last - first) / (31 * 86400) < found.upper
    assert found.upper - found.lower < 1.2
    assert f"from {np.datetime64(first, 's')}"[:15] in found.action


def test_a_loss_that_begins_late_is_told_with_its_onset(dry_month: Components) -> None:
    """3 % of the global from the 13th to the 25th: not what a line over all days makes of it."""
    start = dry_month.middle[0]
    begin, end = start + 12.3 * 86400, start + 24.3 * 86400
    lost = 0.03 * np.clip((dry_month.middle - begin) / (end - begin), 0.0, None)
    dirty = replace(dry_month, ghi=dry_month.ghi * (1.0 - lost))
    skies = [tuple(r.where(r.middle < end) for r in sky_ratios(dirty))]
    found = soiling_drift(subject_of(dirty, "kpn", "2031-08"), skies, start, 0.0)[2]  # type: ignore[arg-type]
    assert found is not None
    assert found.target == "ghi"
    # clear minutes end some days before
    seen = -3.0 * (found.evidence["seen"][1] - begin) / (end - begin)
    assert seen < -2.0
    assert found.size == pytest.approx(seen, abs=0.2)
    assert found.lower < seen < found.upper
    assert found.onset == pytest.approx(begin, abs=3 * 86400)
    # half of it over the days since the onset
    days = (found.evidence["seen"][1] - begin) / 86400
    assert found.effect == pytest.approx(seen / 200 * days / 30.4 * dirty.ghi.mean(), rel=0.2)


def test_another_instrument_is_not_blamed(dry_month: Components) -> None:
    """Where the one that the ratios speak for was exchanged meanwhile, nothing is said."""
    passed = (dry_month.middle - dry_month.middle[0]) / (30 * 86400.0)
    dirty = replace(dry_month, ghi=dry_month.ghi * (1.0 - 0.05 * passed))
    subject, skies = subject_of(dirty, "kpn", "2031-08"), [sky_ratios(dirty)]
    _, verdict, found = soiling_drift(subject, skies, 0.0, 0.0, ["dhi", "dni"])
    assert found is None
    assert verdict is not None
    assert verdict.cause == "ghi"


def test_clean_months_do_not_drift(dry_month: Components, published_month: Components) -> None:
    """Generated and real."""
    for parts in (dry_month, published_month):
        assert soiling_drift(subject_of(parts, "s", "m"), [sky_ratios(parts)], 0.0, 0.0)[2] is None


def test_frosted_mornings_are_counted(dry_month: Components) -> None:
    """Of flagged minutes: two mornings, a third too short."""
    frosted = np.zeros(dry_month.middle.size, bool)
    for day, minutes in ((2, 90), (5, 40), (9, 5)):
        frosted[1440 * day + 400 : 1440 * day + 400 + minutes] = True
    subject = subject_of(dry_month, "kpn", "2031-08")
    found = frost_mornings(subject, dry_month, "ghi", frosted)
    assert found is not None
    assert (found.size, found.unit, found.evidence["minutes"]) == (2.0, "d", 135)
    assert frost_mornings(subject, dry_month, "ghi", np.zeros(frosted.size, bool)) is None


def test_the_cost_of_a_loss(dry_month: Components) -> None:
    """Half a month at 2 %: about 1 % of the mean of that half; only the loss's time changes."""
    cut = float(dry_month.middle[0]) + 15 * 86400
    dirty = replace(dry_month, ghi=dry_month.ghi * np.where(dry_month.middle < cut, 0.98, 1.0))
    assert without_loss(dirty, "ghi", 0.02, cut).ghi == pytest.approx(dry_month.ghi)
    expected = np.mean(dirty.ghi - dry_month.ghi)
    assert monthly_cost(dirty, "ghi", 0.02, cut) == pytest.approx(expected)
