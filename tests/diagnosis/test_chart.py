"""The control chart of the responsivity."""

from __future__ import annotations

import numpy as np
import pytest

from generated_month import generated_month
from sunledger.diagnosis.chart import ChartMonth, chart_limit, control_chart, quoted_range
from sunledger.diagnosis.ratios import sky_ratios
from sunledger.diagnosis.responsivity import InSitu, responsivity_in_tens

KNOWN = {"ghi": 0.018, "dhi": 0.016, "dni": 0.009}


def month_of(ratio: float, *lowers: float, limit: float = 0.03) -> ChartMonth:
    """A month with the same ratio at every range."""
    return ChartMonth(tuple(InSitu(z, z + 10, ratio, 0.004, 900, 9) for z in lowers), limit)


def test_the_series_is_quoted_at_45_degrees_or_at_the_nearest_common_range() -> None:
    """In a high-latitude winter the sun does not get there."""
    sides = [("2031-06-15", 15), ("2031-12-01", 31)]
    summer, winter = (
        ChartMonth(responsivity_in_tens(sky_ratios(generated_month("osr", 5, start, days))[0]), 0.1)
        for start, days in sides
    )
    assert quoted_range([summer]) == (40.0, 50.0)
    assert winter.ranges[0].zenith_from >= 60.0
    common = quoted_range([summer, winter])
    assert common is not None
    assert common[0] >= 60.0


def test_without_a_common_range_the_last_month_decides() -> None:
    """The range that most months share; a month without clear sky is not asked."""
    dark, high = month_of(1.0), month_of(1.0, 20.0, 25.0)
    assert quoted_range([high, dark, month_of(1.0, 60.0, 65.0)]) == (60.0, 70.0)
    assert quoted_range([high, dark]) is None
    assert quoted_range([]) is None
    assert control_chart({"2031-01": dark}) == ()


def test_the_chart_marks_the_month_that_is_off() -> None:
    """Only where the whole interval is beyond the limits, on either side."""
    months = {
        "2031-02": month_of(1.033, 40.0, 45.0),
        "2031-01": month_of(1.0, 40.0),
        "2031-03": month_of(1.035, 40.0),
        "2031-04": month_of(0.965, 35.0, 40.0),
    }
    chart = control_chart(months)
    assert [p.month for p in chart] == ["2031-01", "2031-02", "2031-03", "2031-04"]
    assert [p.outside for p in chart] == [False, False, True, True]
    assert (chart[0].lower, chart[0].upper) == (0.97, 1.03)


def test_limits_follow_from_certificates_class_and_age() -> None:
    """Sum of squares by hand: certificates, 2 x 0.5 % direction, 1.5 % a year for 0.9 years."""
    squares = 0.018**2 + (0.2 * 0.016) ** 2 + (0.8 * 0.009) ** 2 + 0.01**2 + (0.015 * 0.9) ** 2
    assert chart_limit(KNOWN, 0.2, 0.015, 0.9) == pytest.approx(np.sqrt(squares), rel=1e-12)
