"""A month on its control chart."""

from __future__ import annotations

from dataclasses import replace

import pytest

import invented
from recorded_month import recorded
from sunledger.diagnosis.chart_check import responsivity
from sunledger.diagnosis.month import NOT_ENOUGH
from sunledger.diagnosis.selection import Components


def test_a_month_on_its_certificate_is_within_the_limits(dry_month: Components) -> None:
    """It is told in microvolts, and the chart grows by the months before."""
    month = recorded(dry_month)
    found, told = responsivity(month)
    assert found == []
    assert told["verdict"] == "within the limits"
    sensitivity = invented.SENSITIVITY["global_1"]
    assert told["certificate_responsivity"] == sensitivity
    assert told["bins"][0][-1] == pytest.approx(told["bins"][0][2] * sensitivity)
    assert [row[0] for row in told["chart"]] == ["2031-08"]
    assert told["chart"][0][1] == 40.0
    later = replace(month, period="2031-09", told_before={"2031-08": {"responsivity": told}})
    assert [row[0] for row in responsivity(later)[1]["chart"]] == ["2031-08", "2031-09"]


def test_a_month_beyond_its_limits_is_said_once(dry_month: Components) -> None:
    """Where the pair names an instrument, that check says it; here it cannot be told whose."""
    off = replace(dry_month, ghi=1.05 * dry_month.ghi)
    found, told = responsivity(recorded(off))
    assert told["verdict"] == "beyond the limits"
    assert found == []
    # both fault at once, so that neither ratio says more than its certificates allow to
    wide = recorded(off)
    rows = tuple(replace(r, relative_uncertainty=0.0225) for r in wide.resolved.coefficients)
    rows = tuple(replace(r, relative_uncertainty=0.004) if r.quantity == "ghi" else r for r in rows)
    vague = replace(wide, resolved=replace(wide.resolved, coefficients=rows))
    assert responsivity(vague)[1]["limit"] > told["limit"]


def test_little_clear_sky_is_not_enough(dry_month: Components) -> None:
    """Nor is a month without coefficients."""
    few = replace(dry_month, usable=dry_month.middle < dry_month.middle[1440])
    assert responsivity(recorded(few))[1]["verdict"] == NOT_ENOUGH
    month = recorded(dry_month)
    bare = replace(month, resolved=replace(month.resolved, coefficients=()))
    assert responsivity(bare) == ([], {"verdict": NOT_ENOUGH})
