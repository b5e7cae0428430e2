"""Clock errors over all time, from the clock checks in the record."""

from __future__ import annotations

from typing import Any

import pytest

from sunledger.config.clocks import ClockSegment, clock_checks, clock_segments
from sunledger.config.models.base import FAR_FUTURE, FAR_PAST
from sunledger.config.models.fieldlog import FieldLog
from sunledger.config.models.station import Clock

T1, T2, T3 = 1931385600, 1931990400, 1932595200  # a week apart


def check(time: int, found: float, left: float | None = None, **changes: Any) -> dict[str, Any]:
    """A clock check of the logger `main`."""
    return {
        "id": f"c{time}",
        "type": "clock_check",
        "time": time,
        "logger": "main",
        "found": found,
        "left": left,
        "role": "technician",
    } | changes


def segments(
    *entries: dict[str, Any], policy: str = "interpolate", clock: Clock | None = None
) -> tuple[ClockSegment, ...]:
    """Segments of the logger `main`."""
    log = FieldLog.model_validate({"entries": list(entries)})
    return clock_segments(log, "main", clock or Clock(), policy)


def test_drift_is_interpolated_from_left_to_found() -> None:
    """What the first check left grows to what the second found, whatever the first found."""
    got = segments(check(T1, 40, 0), check(T2, 35, 2))
    assert got[1] == ClockSegment(T1, T2, 0.0, 35.0, True)


def test_a_clock_that_was_not_set_goes_on_as_found() -> None:
    """Without an as-left error the as-found one is where the next stretch begins."""
    assert segments(check(T1, 12), check(T2, 15))[1] == ClockSegment(T1, T2, 12.0, 15.0, True)


def test_a_clock_left_at_zero_begins_at_zero() -> None:
    """An as-left error of 0 s is an error of 0 s, not a missing one."""
    assert segments(check(T1, 12, 0), check(T2, 15))[1].error_start == 0.0


def test_policy_hold_keeps_the_earlier_error() -> None:
    """Between two checks the as-left error of the first stays."""
    got = segments(check(T1, 40, 1), check(T2, 35, 2), policy="hold")
    assert got[1] == ClockSegment(T1, T2, 1.0, 1.0, True)
    assert got[2].error_start == 2.0


def test_nothing_is_extrapolated() -> None:
    """Before the first check its as-found error is held, after the last its as-left, unverified."""
    got = segments(check(T1, 40, 1), check(T2, 35, 2))
    assert got[0] == ClockSegment(FAR_PAST, T1, 40.0, 40.0, False)
    assert got[-1] == ClockSegment(T2, FAR_FUTURE, 2.0, 2.0, False)


def test_one_check_brackets_nothing() -> None:
    """Both sides are unverified, and there is nothing between."""
    got = segments(check(T1, -20, 0))
    assert [s.verified for s in got] == [False, False]
    assert [s.error_start for s in got] == [-20.0, 0.0]


def test_no_check_at_all() -> None:
    """The clock is taken as right, and no minute of it as verified."""
    assert segments() == (ClockSegment(FAR_PAST, FAR_FUTURE, 0.0, 0.0, False),)


def test_a_time_signal_needs_no_checks() -> None:
    """No drift term: checks of a disciplined clock are not applied, and all of it is verified."""
    got = segments(check(T1, 40, 1), clock=Clock(discipline="time_signal", bound=1.0))
    assert got == (ClockSegment(FAR_PAST, FAR_FUTURE, 0.0, 0.0, True),)


@pytest.mark.parametrize("policy", ["interpolate", "hold"])
def test_segments_leave_no_seam(policy: str) -> None:
    """Each begins where the one before ends, from the far past to the far future."""
    got = segments(check(T1, 4), check(T2, -80, 0), check(T3, 7, 1), policy=policy)
    assert (got[0].start, got[-1].end) == (FAR_PAST, FAR_FUTURE)
    assert [s.end for s in got[:-1]] == [s.start for s in got[1:]]


def test_checks_count_by_time_and_not_by_order_of_writing() -> None:
    """A check that was entered late takes its place."""
    late, early = check(T2, 35), check(T1, 40, 0)
    assert segments(late, early) == segments(early, late)


def test_checks_of_another_logger_do_not_count() -> None:
    """Each logger has its own clock."""
    assert segments(check(T1, 9, logger="beam")) == segments()


def test_a_corrected_check_is_replaced() -> None:
    """Only the entry that corrects it is in force."""
    wrong = check(T1, 4000)
    right = check(T1, 40, id="better", corrects=wrong["id"], reason="a zero too many")
    log = FieldLog.model_validate({"entries": [wrong, right]})
    assert [c.found for c in clock_checks(log, "main")] == [40.0]
