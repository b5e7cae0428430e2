"""Figures over months are tested by the data they draw."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sunledger.archive.findings_file import FindingsFile
from sunledger.report import figures, figures_of_months

START = 1932768000  # 2031-04-01


def test_events_stand_at_their_time() -> None:
    """An event at noon of the second day stands at 2.5; other months are left out."""
    clock = {
        "clock_check_time": [START + 1.5 * 86400, START - 86400.0],
        "clock_check_logger": ["main", "main"],
        "clock_error_found": [2.0, 1.0],
        "clock_error_left": [np.nan, 0.0],
    }
    (line,) = figures.events_over_time({"clock_check": clock}, "2031-04").axes[0].lines
    assert line.get_gid() == "clock check"
    assert_allclose(np.asarray(line.get_xdata()), [2.5])
    assert not figures.events_over_time({}, "2031-04").axes[0].lines


def test_findings_become_points_by_month() -> None:
    """Only findings of the unit, each with its interval, in the order of the months."""
    row = {"name": "level_step", "target": "global_1", "unit": "degree"}
    low = row | {"size": 0.4, "lower": 0.3, "upper": 0.6}
    high = row | {"size": 0.8, "lower": 0.7, "upper": 0.9}
    found = {"2031-05": FindingsFile({}, (high,)), "2031-04": FindingsFile({}, (low,))}
    points = figures.finding_points(found, "degree")
    assert points == {
        "level step, global_1": {"2031-04": (0.4, 0.3, 0.6), "2031-05": (0.8, 0.7, 0.9)}
    }
    axes = figures.trend(points, "Lean [degree]").axes[0]
    assert [t.get_text() for t in axes.get_xticklabels()] == ["2031-04", "2031-05"]
    assert figures.finding_points(found, "%") == {}


def test_history_without_files_says_so() -> None:
    """No monthly file, no line."""
    axes = figures.monthly_history([], "ghi").axes[0]
    assert [t.get_text() for t in axes.texts] == ["no monthly mean"]


def test_history_has_a_line_a_year(monkeypatch: pytest.MonkeyPatch) -> None:
    """Over the months of the year, each with its uncertainty."""
    held = {"2030-04": (200.0, 4.0), "2030-06": (250.0, 5.0), "2031-04": (205.0, 6.0)}
    monkeypatch.setattr(figures_of_months, "monthly_means", lambda _: {"ghi": held})
    drawn = figures.monthly_history([], "ghi").axes[0]
    first, second = drawn.containers
    again = figures.monthly_history({"ghi": held}, "ghi").axes[0]
    assert len(again.lines) == len(drawn.lines)
    assert [first.get_label(), second.get_label()] == ["2030", "2031"]
    assert_allclose(np.asarray(first.lines[0].get_xydata()), [[4, 200], [6, 250]])  # type: ignore[attr-defined]
    (bars,) = second.lines[2]  # type: ignore[attr-defined]
    assert_allclose(bars.get_segments()[0][:, 1], [199.0, 211.0])
