"""Who needs a visit first: each part of the rule decides where those before are equal."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import small_project
from network_states import finding, state, with_findings
from sunledger.errors import ArchiveError
from sunledger.report.network import StationState, in_order, network_month, reasons


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (state("b", missing=500), with_findings("a", finding(9.0, "act"))),
        (state("b", missing=900), state("a", missing=600)),
        (with_findings("b", finding(2.0, "act")), with_findings("a", finding(9.0))),
        (with_findings("b", finding(-3.0)), with_findings("a", finding(2.9))),
        (state("b", bad=20), state("a", missing=10)),
        (state("b", cleaned=1.0), state("a", cleaned=2.0)),
        (state("b"), state("a", cleaned=2.0)),
        (state("a"), state("b")),
    ],
)
def test_the_first_difference_decides(first: StationState, second: StationState) -> None:
    for order in ((first, second), (second, first)):
        assert [s.station for s in in_order(iter(order))] == [first.station, second.station]


def test_a_station_without_a_file_comes_first() -> None:
    gone = replace(state("z"), minute=None)
    assert in_order(iter([state("a", missing=999), gone]))[0] is gone
    assert reasons(gone) == "nothing arrived"
    assert not gone.arrived
    assert gone.lost == 1.0


def test_reasons_say_what_the_rule_looks_at() -> None:
    told = reasons(with_findings("a", finding(-3.0, "act"), finding(1.0), missing=100))
    assert told == (
        "1 finding to act on; costliest: the global pyranometer leans differently than before"
        " (global_1), 3 W m-2; 10.0 % of the minutes missing or bad"
    )
    assert reasons(state("a")).startswith("no finding; 0.0 %")
    assert reasons(state("a", findings=None)).startswith("no diagnosis was made")


def test_shares_of_grades() -> None:
    shares = state("a", missing=100, bad=50).shares
    assert shares == {"ghi": {"good": 0.85, "missing": 0.1, "bad": 0.05}}
    assert state("a", missing=100, bad=50).lost == pytest.approx(0.15)


def test_an_archive(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Files, means and the last entry are found; a month without a file is lost whole."""
    archive = small_project.made_once(tmp_path_factory.getbasetemp()).parent / "archive"
    (found,) = network_month(archive, "2031-06")
    assert found.arrived
    assert 0.9 < found.lost < 1.0  # two days of the month
    assert found.title.startswith("Test Ridge")
    (none,) = network_month(archive, "1999-01")
    assert not none.arrived
    assert np.isnan(none.noted)
    with pytest.raises(ArchiveError, match="MONTH: must be written like"):
        network_month(archive, "1999")


def test_last_entries_of_the_sample(sample_folder: Path) -> None:
    """In May somebody cleaned on the 21st at Ossel Ridge; entries of June are not of May."""
    states = network_month(sample_folder / "build" / "sample_archive", "2031-05")
    ossel = next(s for s in states if s.station == "osr")
    assert np.datetime64(int(ossel.cleaned), "s") == np.datetime64("2031-05-21T07:45")
    assert ossel.noted == ossel.cleaned
