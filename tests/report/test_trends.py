"""Trends over months: every month with enough evidence is a point, found or not."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sunledger.archive.findings_file import FindingsFile, findings_path, write_findings
from sunledger.errors import ArchiveError
from sunledger.report import figures
from sunledger.report.trends import (
    by_month,
    lean_points,
    night_points,
    responsivity_limits,
    responsivity_points,
)


def months(**verdicts: Any) -> dict[str, FindingsFile]:
    """Two months without a finding, the first without evidence."""
    poor = FindingsFile({"verdicts": {name: {"verdict": "not enough"} for name in verdicts}})
    return {"2031-04": poor, "2031-05": FindingsFile({"verdicts": verdicts})}


TERMS = {"east_degree": [0.5, 0.1], "north_degree": [-0.2, 0.3], "responsivity_percent": [1.0, 0.4]}
CHART = [
    ["2031-04", 40.0, 50.0, 1.01, 0.002, 0.97, 1.03],
    ["2031-05", 40.0, 50.0, 0.99, 0.003, 0.96, 1.04],
]


def test_lean_has_two_terms() -> None:
    points = lean_points(months(constant_terms=TERMS))
    (east,), (north,) = (list(line.items()) for line in points.values())
    assert east[0] == north[0] == "2031-05"
    assert_allclose(east[1], (0.5, 0.4, 0.6))
    assert_allclose(north[1], (-0.2, -0.5, 0.1))
    axes = figures.lean_over_months(months(constant_terms=TERMS)).axes[0]
    assert [t.get_text() for t in axes.get_xticklabels()] == ["2031-05"]


def test_responsivity_with_the_limits_of_the_newest_chart() -> None:
    """In percent from 1; the fit of the whole month beside the ratio of the chart."""
    found = months(constant_terms=TERMS, responsivity={"chart": CHART})
    fit, ratio = responsivity_points(found).values()
    assert_allclose(fit["2031-05"], (1.0, 0.6, 1.4))
    assert_allclose(ratio["2031-04"], (1.0, 0.8, 1.2))
    assert_allclose(ratio["2031-05"], (-1.0, -1.3, -0.7))
    assert_allclose(responsivity_limits(found)["2031-04"], (-3.0, 3.0))
    axes = figures.responsivity_over_months(found).axes[0]
    limits = [c for c in axes.collections if c.get_gid() == "limit"]
    drawn = np.array([s for c in limits for s in c.get_segments()])  # type: ignore[attr-defined]
    assert_allclose(drawn[:, 0, 1], [-3.0, 3.0, -4.0, 4.0])
    assert_allclose(drawn[:, :, 0].mean(axis=1), [0, 0, 1, 1], atol=1e-12)


def test_months_without_evidence_keep_their_place() -> None:
    """The axis has no jump from March to May."""
    held = {
        m: FindingsFile({"verdicts": {"constant_terms": t}})
        for m, t in (("2030-12", TERMS), ("2031-01", {}), ("2031-02", TERMS))
    }
    axes = figures.lean_over_months(held).axes[0]
    assert [t.get_text() for t in axes.get_xticklabels()] == ["2030-12", "2031-01", "2031-02"]
    assert_allclose(np.asarray(axes.lines[0].get_xdata(), float), [0, 2])


def test_night_offsets_by_component() -> None:
    nights = {"ghi": {"offset": [-1.5, 0.2], "nights": 20}, "dhi": {"verdict": "not enough"}}
    points = night_points(months(nights=nights))
    assert list(points) == ["ghi"]
    assert_allclose(points["ghi"]["2031-05"], (-1.5, -1.7, -1.3))
    assert figures.night_offsets_over_months(months(nights=nights)).axes


def test_without_evidence_there_is_no_point_and_no_error() -> None:
    found = months(constant_terms={})
    for points in (lean_points, responsivity_points, night_points, responsivity_limits):
        assert points(found) == {}
    assert figures.lean_over_months({}).axes[0].texts
    assert figures.responsivity_over_months({}).axes[0].texts


def test_findings_files_are_read_where_they_are_named(tmp_path: Path) -> None:
    """As a researcher calls it."""
    path = findings_path(tmp_path / "tst", "2031-05")
    path.parent.mkdir(parents=True)
    write_findings(path, FindingsFile({"period": "2031-05", "verdicts": {"constant_terms": TERMS}}))
    assert lean_points([path]) == lean_points(months(constant_terms=TERMS))
    assert list(by_month([path])) == ["2031-05"]
    path.write_text("altered")
    with pytest.raises(ArchiveError, match="was altered"):
        lean_points([path])
