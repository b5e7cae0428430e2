"""The step of a month by its cause."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from diagnosed_months import month
from invented_months import DAY, Month, step_at
from recorded_month import recorded
from sunledger.diagnosis.month import NOT_ENOUGH
from sunledger.diagnosis.selection import Components
from sunledger.diagnosis.steps import steps

WHEN = float(np.datetime64("2031-06-16", "s").astype(np.int64))
PLAIN = Month(start="2031-06-01", seed=4, cloudiness=0.3)


def test_a_slanted_lean_is_a_step_of_the_level() -> None:
    """One degree toward 150 degrees: size, azimuth, onset, effect, and the correlation told."""
    turn = np.radians(150.0)
    what = replace(PLAIN, east=step_at(WHEN, np.sin(turn)), north=step_at(WHEN, np.cos(turn)))
    (found,), told = steps(month(what))
    assert (found.name, found.target) == ("level_step", "global_1")
    assert found.lower < 1.0 < found.upper
    assert found.evidence["azimuth_degree"] == pytest.approx(150.0, abs=15.0)
    assert abs(found.onset - WHEN) < 2 * DAY
    assert "level the global pyranometer" in found.action
    assert found.effect != 0.0
    equinox = replace(PLAIN, start="2031-09-08")
    mixed = steps(month(equinox))[1]["north_responsivity_correlation"]
    # the sun's path parts the two in June; at the equinox they are one column
    assert abs(told["north_responsivity_correlation"]) < 0.95 < abs(mixed) <= 1.0
    assert told["verdict"] == "a lean of the global"


def test_a_clock_step_is_left_to_the_watch_over_the_clock() -> None:
    """Both causes are told; the finding is not said twice."""
    found, told = steps(month(replace(PLAIN, clock=step_at(WHEN, 300.0))))
    assert found == []
    assert "clock" in told["verdict"]
    assert set(told["misfits"]) == {"lean", "clock"}


@pytest.mark.parametrize("name", ["ghi", "dhi", "dni"])
def test_a_sensitivity_that_steps_within_the_month_is_named(
    dry_month: Components, name: str
) -> None:
    """Three percent at an instant that nobody noted."""
    when = dry_month.middle[0] + 14 * DAY
    later = dry_month.middle >= when
    values = getattr(dry_month, name)
    wrong = replace(dry_month, **{name: np.where(later, 1.03 * values, values)})
    (found,), _ = steps(recorded(wrong))
    assert (found.name, found.target) == ("sensitivity_changed", name)
    assert found.lower < 3.0 < found.upper
    assert abs(found.onset - when) < 2 * DAY


def test_two_causes_at_once_are_left_open(dry_month: Components) -> None:
    """A global and a diffuse that moved together by unlike amounts."""
    later = dry_month.middle >= dry_month.middle[0] + 14 * DAY
    wrong = replace(
        dry_month,
        ghi=np.where(later, 1.05 * dry_month.ghi, dry_month.ghi),
        dhi=np.where(later, 0.92 * dry_month.dhi, dry_month.dhi),
    )
    (found,), told = steps(recorded(wrong))
    assert found.name == "closure_changed_cause_open"
    assert found.cannot_tell == ("more than one cause at once",)
    assert told["verdict"] == "no single cause"


def test_clean_and_short_months_say_nothing(dry_month: Components) -> None:
    """What could be said is in numbers."""
    found, told = steps(recorded(dry_month))
    assert (found, told["verdict"]) == ([], "no change")
    assert abs(told["east_degree"][0]) < 0.3
    assert steps(month(Month(days=3, cloudiness=-1.0))) == ([], {"verdict": NOT_ENOUGH})
