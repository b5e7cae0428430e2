"""Tracker, shade and pyrheliometer off the sun."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sunledger.diagnosis.pointing import direct_lost, local_failures, lost_days, off_sun
from sunledger.diagnosis.ratios import sky_ratios
from sunledger.diagnosis.sectors import sector_departures
from sunledger.diagnosis.selection import Components
from sunledger.diagnosis.subject import subject_of


def test_the_direct_of_the_two_bad_days_is_named(published_month: Components) -> None:
    """6 and 10 June 2016, as known from the data (cited in tests/published); 28 June has a gap."""
    found = lost_days(subject_of(published_month, "pay", "2016-06"), published_month)
    days = {str(np.datetime64(f.onset, "s").astype("M8[D]")): f for f in found if f.onset}
    assert set(days) == {"2016-06-06", "2016-06-10", "2016-06-28"}
    assert {f.name for f in found} == {"direct_lost"}
    for day in ("2016-06-06", "2016-06-10"):
        assert days[day].size > 400
        assert days[day].evidence["zero_minutes"] > 10
        assert days[day].effect < -5.0
    assert days["2016-06-28"].size < 60


def test_clean_months_lose_nothing(dry_month: Components) -> None:
    """Broken cloud over instruments some metres apart is not taken for a lost direct."""
    assert lost_days(subject_of(dry_month, "kpn", "2031-08"), dry_month) == ()
    assert direct_lost(dry_month).mean() < 0.002


def test_a_cable_that_stops_the_tracker_every_noon(dry_month: Components) -> None:
    """Its time of day is told, with a caution; scattered failures have none."""
    minute = (dry_month.middle + dry_month.longitude * 240.0) % 86400 / 60
    off = (minute > 11 * 60 + 30) & (minute < 12 * 60 + 30)
    off &= dry_month.middle < dry_month.middle[0] + 6 * 86400
    subject = subject_of(dry_month, "kpn", "2031-08")
    found = off_sun(subject, dry_month, off)
    assert found is not None
    assert found.evidence["first_hour"] == 11
    assert found.evidence["share_within_two_hours"] == 1.0
    assert "11 to 13 h solar time" in found.action
    assert "power off first" in found.action
    anywhere = np.zeros(off.size, bool)
    anywhere[::97] = True
    told = off_sun(subject, dry_month, anywhere)
    assert told is not None
    assert "never look at the sun" in told.action
    assert off_sun(subject, dry_month, off & (dry_month.middle < 0)) is None


def test_one_azimuth_at_which_the_shade_fails(dry_month: Components) -> None:
    """A local departure is named with its sector; smooth ones and clean months are not."""
    clear, _ = sky_ratios(dry_month)
    subject = subject_of(dry_month, "kpn", "2031-08")
    assert local_failures(subject, sector_departures(clear)) == ()
    here = (clear.azimuth >= 30.0) & (clear.azimuth < 45.0)
    spoilt = replace(clear, log_ratio=clear.log_ratio - 0.03 * here)
    (found,) = [f for f in local_failures(subject, sector_departures(spoilt)) if f.size < 0]
    assert found.evidence["azimuth_from"] == 30.0
    assert found.size == pytest.approx(-3.0, abs=0.3)
    assert found.target == "azimuth 30 to 45"
    assert "a shade that lets the beam past" in found.cannot_tell
    assert "never at the sun" in found.action
    slope = replace(clear, log_ratio=clear.log_ratio + 0.02 * np.sin(np.radians(clear.azimuth)))
    assert local_failures(subject, sector_departures(slope)) == ()
