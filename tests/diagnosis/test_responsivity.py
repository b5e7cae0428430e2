"""In-situ responsivity, its chart and findings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from generated_month import generated_month
from sunledger.diagnosis.ratios import Ratios, sky_ratios
from sunledger.diagnosis.responsivity import (
    against_certificates,
    changed_sensitivity,
    control_chart,
    quoted_range,
    responsivity_by_zenith,
)
from sunledger.diagnosis.selection import Components
from sunledger.diagnosis.subject import subject_of

KNOWN = {"ghi": 0.018, "dhi": 0.016, "dni": 0.009}


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


def test_the_series_is_quoted_at_45_degrees_or_at_the_nearest_common_bin() -> None:
    """In a high-latitude winter the sun does not get there."""
    summer = sky_ratios(generated_month("osr", 5, "2031-06-15", 15))[0]
    winter = sky_ratios(generated_month("osr", 5, "2031-12-01", 31))[0]
    assert quoted_range([summer]) == (40.0, 50.0)
    assert winter.zenith.min() > 60.0
    common = quoted_range([summer, winter])
    assert common is not None
    assert common[0] >= 60.0
    assert quoted_range([summer, winter.where(np.zeros(winter.day.size, bool))]) is None


def test_the_chart_marks_the_month_that_is_off(dry_month: Components) -> None:
    """Limits follow from certificates, class and age; 6 % is beyond them, 0 is not."""
    months: dict[str, Ratios] = {
        "2031-08": sky_ratios(dry_month)[0],
        "2031-09": sky_ratios(replace(dry_month, ghi=1.06 * dry_month.ghi))[0],
    }
    chart = control_chart(months, KNOWN, 0.015, {"2031-08": 0.9, "2031-09": 1.0})
    assert [(p.month, p.outside) for p in chart] == [("2031-08", False), ("2031-09", True)]
    share = float(months["2031-08"].share.mean())
    # sum of squares by hand: certificates, 2 x 0.5 % direction, 1.5 % a year
    squares = 0.018**2 + (share * 0.016) ** 2 + ((1 - share) * 0.009) ** 2 + 0.01**2
    assert chart[0].upper == pytest.approx(1 + np.sqrt(squares + (0.015 * 0.9) ** 2))


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
