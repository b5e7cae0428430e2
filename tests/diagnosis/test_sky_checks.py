"""Pointing, shadows and frost of a month, with the record and the flags."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from recorded_month import START, recorded
from sunledger.diagnosis.beside import Beside
from sunledger.diagnosis.month import NOT_ENOUGH, DiagnosedMonth
from sunledger.diagnosis.selection import Components
from sunledger.diagnosis.sky_checks import frost, pointing, shadows
from sunledger.physics.sun import solar_position


def with_flags(month: DiagnosedMonth, **flagged: np.ndarray) -> DiagnosedMonth:
    """The month with some minutes flagged."""
    return replace(month, beside=Beside(flagged=flagged))


def test_a_clean_month_is_told_in_numbers(dry_month: Components) -> None:
    """No finding, and what could be said."""
    month = recorded(dry_month)
    for check in (pointing, shadows, frost):
        found, verdict = check(month)
        assert found == []
        assert verdict
    told = pointing(month)[1]
    assert told["off_sun_minutes"] == 0
    assert len(told["sectors"]) >= 8
    assert all(abs(row[1]) < 1.5 for row in told["sectors"])
    assert told["direct_lacks_under_clearest"]


def test_minutes_off_the_sun_are_counted_once(dry_month: Components) -> None:
    """Those of a visit do not count, nor those of a day whose direct is lost anyway."""
    local = dry_month.middle + dry_month.longitude * 240.0
    noon = (local % 86400 >= 11.5 * 3600) & (local % 86400 < 12.5 * 3600)
    off = noon & (local < local[0] + 5 * 86400)
    month = with_flags(recorded(dry_month), tracker_off_sun=off)
    (found,) = pointing(month)[0]
    assert (found.name, found.size) == ("tracker_off_sun", off.sum())
    visited = replace(month, parts=replace(dry_month, usable=~off))
    assert pointing(visited)[0] == []
    first = off & (local < local[0] + 86400)
    lost = replace(dry_month, dni=np.where(first, 0.0, dry_month.dni))
    found_both = pointing(replace(month, parts=lost))[0]
    assert {f.name: f.size for f in found_both} == {
        "direct_lost": pytest.approx(first.sum(), abs=2),
        "tracker_off_sun": off.sum() - first.sum(),
    }


def test_a_sector_that_changes_over_the_months_is_a_finding(dry_month: Components) -> None:
    """Four quiet months, then a departure that the first of them alone would not tell."""
    month = recorded(dry_month)
    told = pointing(month)[1]
    quiet = {f"2031-0{n}": {"pointing": told} for n in (4, 5, 6, 7)}
    assert pointing(replace(month, told_before=quiet))[0] == []
    moved = [[a, p + 3.0 * (a == 45.0), h, d, s] for a, p, h, d, s in told["sectors"]]
    before = {m: {"pointing": {"sectors": moved}} for m in quiet}
    (found,) = pointing(replace(month, told_before=before))[0]
    assert (found.name, found.target) == ("shade_or_pointing_drift", "azimuth 45 to 60")
    assert found.size == pytest.approx(-3.0)


def test_frosted_mornings_are_counted_with_their_cost(dry_month: Components) -> None:
    """Two mornings of 40 minutes that lack 30 %, one of 10 minutes that does not count."""
    local = dry_month.middle + dry_month.longitude * 240.0
    day, minute = local // 86400 - local[0] // 86400, local % 86400 // 60
    iced = (minute >= 480) & (minute < np.where(day == 4, 490, 520)) & np.isin(day, (2, 3, 4))
    ghi = np.where(iced, 0.7 * dry_month.ghi, dry_month.ghi)
    month = recorded(replace(dry_month, ghi=ghi))
    (found,), told = frost(with_flags(month, frost_or_ventilation=iced))
    assert (found.name, found.target, found.size) == ("frost_mornings", "ghi", 2.0)
    assert told == {"minutes": 90, "mornings": 2}
    lacking = -0.3 * dry_month.ghi[iced].sum() / iced.size
    assert found.effect == pytest.approx(lacking, rel=0.05)
    assert frost(month) == ([], {"minutes": 0, "mornings": 0})


def test_little_clear_sky_is_not_enough(dry_month: Components) -> None:
    """It is said, not passed over."""
    few = replace(dry_month, usable=dry_month.middle < START + 2 * 86400)
    assert pointing(recorded(few))[1]["azimuths"] == NOT_ENOUGH
    dark = recorded(replace(dry_month, usable=np.zeros(dry_month.middle.size, dtype=bool)))
    for check in (pointing, shadows, frost):
        assert check(dark)[0] == []


def test_a_shadow_is_found_unless_the_profile_knows_it(dry_month: Components) -> None:
    """The skyline of the station's file."""
    month = recorded(dry_month)
    sun = solar_position(
        dry_month.middle, dry_month.latitude, dry_month.longitude, dry_month.altitude
    )
    hidden = (sun.azimuth >= 66.0) & (sun.azimuth < 78.0) & (sun.zenith > 75.0)
    walled = replace(month, parts=replace(dry_month, dni=np.where(hidden, 0.5, dry_month.dni)))
    (found,), verdict = shadows(walled)
    assert found.name == "returning_shadow"
    assert verdict["suggested_skyline"]
    wall = ((65.9, 0.0), (66.0, 15.0), (78.0, 15.0), (78.1, 0.0))
    entry = (month.resolved.start, month.resolved.end, wall)
    known = replace(walled, resolved=replace(month.resolved, skylines=(entry,)))
    assert shadows(known)[0] == []
