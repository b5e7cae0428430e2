"""Deployments as half-open periods."""

from __future__ import annotations

from collections.abc import Callable

from sunledger.config.loading import StationConfig
from sunledger.config.models.base import parse_utc
from sunledger.config.record import deployment_periods, standing_for

LoadLog = Callable[[str], StationConfig]
DEPLOYMENT = 'id: {0}, type: deployment, from: "{1}", instrument: {2}, position: global_1'


def _periods(config: StationConfig) -> list[tuple[str, str, int | None]]:
    return [
        (p.entry.id, p.entry.instrument, None if p.end is None else p.end - p.start)
        for p in deployment_periods(config.fieldlog)
    ]


def test_open_until_and_removed(with_log: LoadLog) -> None:
    """A deployment ends at `until`, at its removal, or not yet; sorted by start."""
    config = with_log(
        DEPLOYMENT.format("c", "2031-01-03", "GL-01")
        + "\n"
        + DEPLOYMENT.format("a", "2031-01-01", "GL-02")
        + ', until: "2031-01-02"\n'
        + DEPLOYMENT.format("b", "2031-01-02", "DF-01")
        + '\nid: d, type: removal, time: "2031-01-02 12:00", deployment: b'
    )
    assert _periods(config) == [("a", "GL-02", 86400), ("b", "DF-01", 43200), ("c", "GL-01", None)]
    assert deployment_periods(config.fieldlog)[0].start == parse_utc("2031-01-01")


def test_earlier_of_until_and_removal(with_log: LoadLog) -> None:
    """Two ends contradict (the ledger says so); meanwhile the earlier one holds."""
    for removed, length in (("2031-01-02", 86400), ("2031-01-04", 2 * 86400)):
        config = with_log(
            DEPLOYMENT.format("a", "2031-01-01", "GL-01")
            + f', until: "2031-01-03"\nid: b, type: removal, time: "{removed}", deployment: a'
        )
        assert _periods(config) == [("a", "GL-01", length)]


def test_corrections_of_deployment_and_removal(with_log: LoadLog) -> None:
    """Corrected entries have no period; a removal follows its deployment's corrections."""
    config = with_log(
        DEPLOYMENT.format("a", "2031-01-01", "GL-01")
        + '\nid: b, type: removal, time: "2031-01-09", deployment: a'
        + '\nid: c, type: removal, time: "2031-01-02", deployment: a, corrects: b, reason: day\n'
        + DEPLOYMENT.format("d", "2031-01-01", "GL-02")
        + ", corrects: a, reason: misread\n"
        + DEPLOYMENT.format("e", "2031-01-01", "DF-01")
        + ", corrects: d, reason: misread"
    )
    assert _periods(config) == [("e", "DF-01", 86400)]
    assert standing_for(config.fieldlog) == {"a": "e", "b": "c", "c": "c", "d": "e", "e": "e"}


def test_removal_of_nothing_ends_nothing(with_log: LoadLog) -> None:
    """A removal with a wrong name leaves every deployment open."""
    config = with_log(
        DEPLOYMENT.format("a", "2031-01-01", "GL-01")
        + '\nid: b, type: removal, time: "2031-01-09", deployment: z'
    )
    assert _periods(config) == [("a", "GL-01", None)]
