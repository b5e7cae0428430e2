"""In-situ responsivity, its chart and findings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sunledger.diagnosis.ratios import sky_ratios
from sunledger.diagnosis.responsivity import (
    against_certificates,
    changed_sensitivity,
    responsivity_by_zenith,
    responsivity_in_tens,
)
from sunledger.diagnosis.selection import Components
from sunledger.diagnosis.subject import subject_of


def test_the_ratio_times_the_certificate_is_voltage_over_the_sum(dry_month: Components) -> None:
    """With the global 1 % high every bin is 1 % higher, and in microvolts too."""
    plain = responsivity_by_zenith(sky_ratios(dry_month)[0])
    more = responsivity_by_zenith(sky_ratios(replace(dry_month, ghi=1.01 * dry_month.ghi))[0])
    assert [b.zenith_from for b in plain] == [b.zenith_from for b in more]
    assert [m.ratio / p.ratio for p, m in zip(plain, more, strict=True)] == pytest.approx(
        [1.01] * len(plain), abs=1e-3
    )
    assert plain[0].responsivity(11.85) == pytest.approx(11.85 * plain[0].ratio)
    assert all(0 < b.half_width < 0.05 for b in plain if b.days > 4)


def test_ranges_of_ten_degrees_lie_over_the_bins(dry_month: Components) -> None:
    """Each holds the minutes of two bins, those of days with too few in either bin too."""
    clear = sky_ratios(dry_month)[0]
    tens = {r.zenith_from: r for r in responsivity_in_tens(clear)}
    bins = {b.zenith_from: b for b in responsivity_by_zenith(clear)}
    assert tens[50.0].zenith_to == 60.0
    inside = int(((clear.zenith >= 50.0) & (clear.zenith < 60.0)).sum())
    assert bins[50.0].minutes + bins[55.0].minutes <= tens[50.0].minutes <= inside
    ends = sorted((bins[50.0].ratio, bins[55.0].ratio))
    assert ends[0] - 2e-4 < tens[50.0].ratio < ends[1] + 2e-4


def test_a_drift_of_the_direct_becomes_its_finding(dry_month: Components) -> None:
    """By name, target, size, effect and onset."""
    cut = dry_month.middle[0] + 15 * 86400
    late = dry_month.middle >= cut
    clear, dull = sky_ratios(
        replace(dry_month, dni=np.where(late, 0.97 * dry_month.dni, dry_month.dni))
    )
    before = clear.where(clear.middle < cut), dull.where(dull.middle < cut)
    after = clear.where(clear.middle >= cut), dull.where(dull.middle >= cut)
    subject = subject_of(dry_month, "kpn", "2031-08")
    _, _, found = changed_sensitivity(subject, before, after)
    assert found is not None
    assert (found.name, found.target, found.unit) == ("sensitivity_changed", "dni", "%")
    assert found.lower < -3.0 < found.upper
    assert found.effect == pytest.approx(found.size / 100 * subject.means["dni"])
    assert found.onset is not None
    assert found.onset >= cut
    assert "direct radiometer" in found.action
    few = tuple(side.where(side.middle < clear.middle[200]) for side in before)
    assert changed_sensitivity(subject, (few[0], few[1]), after)[2] is None


def test_the_real_month_agrees_with_itself(published_month: Components) -> None:
    """Finished data of a well-kept station (cited in tests/published): no finding."""
    month = sky_ratios(published_month)
    subject = subject_of(published_month, "pay", "2016-06")
    pair, verdict, found = against_certificates(
        subject, month, {"ghi": 0.012, "dhi": 0.012, "dni": 0.008}
    )
    assert pair.enough
    assert (verdict.changed, found) == (False, None)
    assert pair.value == pytest.approx([0.0, 0.0], abs=0.006)


def test_a_global_that_is_off_its_certificate_is_named(published_month: Components) -> None:
    """Eight percent on the same month."""
    subject = subject_of(published_month, "pay", "2016-06")
    month = sky_ratios(replace(published_month, ghi=1.08 * published_month.ghi))
    _, _, found = against_certificates(subject, month, {"ghi": 0.012, "dhi": 0.012, "dni": 0.008})
    assert found is not None
    assert (found.name, found.target) == ("sensitivity_off_certificate", "ghi")
