"""All checks of a month together."""

from __future__ import annotations

import pytest

from diagnosed_months import month
from invented_months import Month
from sunledger.diagnosis import checks
from sunledger.diagnosis.findings import Finding


def test_every_check_leaves_a_verdict() -> None:
    """Also where it found nothing; the evidence is counted."""
    found, verdicts = checks.diagnosed(month(Month(days=3, cloudiness=-1.0)))
    assert verdicts.keys() == checks.CHECKS.keys()
    assert verdicts["evidence"]["clear_days"] == 3
    assert verdicts["evidence"]["clear_minutes"] > 1000
    assert found == ()


def test_findings_of_all_checks_are_put_in_order(monkeypatch: pytest.MonkeyPatch) -> None:
    """The one that costs most first, whichever check found it."""

    def finding(effect: float) -> Finding:
        size = (1.0, "degree", 0.5, 1.5)
        words = ("tst", "2031-06", "level_step", f"global_{effect:.0f}")
        return Finding(*words, *size, action="-", effect=effect)

    given = {n: (lambda _, e=e: ([finding(e)], {})) for n, e in (("a", 1.0), ("b", -3.0))}
    monkeypatch.setattr(checks, "CHECKS", given)
    found, _ = checks.diagnosed(month(Month(days=1)))
    assert [f.effect for f in found] == [-3.0, 1.0]


def test_some_checks_can_be_run_alone() -> None:
    """Only they leave a verdict."""
    _, verdicts = checks.diagnosed(month(Month(days=3, cloudiness=-1.0)), ("evidence", "frost"))
    assert list(verdicts) == ["evidence", "frost"]
