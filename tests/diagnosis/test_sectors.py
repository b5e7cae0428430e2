"""Closure by azimuth of the sun."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sunledger.diagnosis.ratios import BIN, sky_ratios
from sunledger.diagnosis.sectors import clearest, pointing_losses, sector_departures
from sunledger.diagnosis.selection import Components


def test_a_local_departure_shows_in_its_sector_only(dry_month: Components) -> None:
    """Three percent from 30 to 45 degrees; its neighbours depart by half of that the other way."""
    clear = sky_ratios(dry_month)[0]
    plain = {s.azimuth_from: s.departure for s in sector_departures(clear)}
    here = (clear.azimuth >= 30.0) & (clear.azimuth < 45.0)
    spoilt = sector_departures(replace(clear, log_ratio=clear.log_ratio - 0.03 * here))
    change = {s.azimuth_from: s.departure - plain[s.azimuth_from] for s in spoilt}
    assert change[30.0] == pytest.approx(-0.03, abs=1e-3)
    assert change[45.0] == pytest.approx(0.015, abs=2e-3)
    assert max(abs(v) for a, v in change.items() if a not in (15.0, 30.0, 45.0)) < 1e-12


def test_the_clearest_minutes_have_the_least_diffuse_of_their_zenith(dry_month: Components) -> None:
    """Half of each bin of zenith angle."""
    clear = sky_ratios(dry_month)[0]
    best = clearest(clear)
    assert best.day.size == pytest.approx(0.5 * clear.day.size, rel=0.01)
    one = np.floor(clear.zenith / BIN) == 10
    kept = np.floor(best.zenith / BIN) == 10
    assert best.share[kept].max() <= np.quantile(clear.share[one], 0.51)


def test_a_direct_that_lacks_light_in_one_sector_has_its_loss(dry_month: Components) -> None:
    """Two percent of the direct between 330 and 345 degrees, under the clearest skies."""
    before = {s.azimuth_from: s.departure for s in pointing_losses(sky_ratios(dry_month)[0])}
    clear = sky_ratios(dry_month)[0]
    here = (clear.azimuth >= 330.0) & (clear.azimuth < 345.0)
    lost = clear.log_ratio - here * np.log(1.0 - 0.02 * (1.0 - clear.share))
    after = {s.azimuth_from: s for s in pointing_losses(replace(clear, log_ratio=lost))}
    assert after[330.0].departure - before[330.0] == pytest.approx(0.02, abs=1e-3)
    assert pointing_losses(clear.where(clear.zenith < 0)) == ()
