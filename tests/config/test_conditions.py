"""What the record says about intervals: doubt that runs backwards, work, review."""

from __future__ import annotations

from typing import Any

import pytest

from invented import DAY, KINDS, MARCH, certificate, deployment, instrument, station_config
from sunledger.config.conditions import (
    ConditionInterval,
    backward_doubt,
    clock_conditions,
    condition_intervals,
    deployment_conditions,
    level_conditions,
    review_conditions,
    sensor_conditions,
    work_conditions,
)
from sunledger.config.loading import StationConfig
from sunledger.config.models.base import FAR_FUTURE, FAR_PAST, parse_utc
from sunledger.config.models.processing import CalibrateSettings, Processing
from sunledger.vocabulary import CONDITIONS

PUT_UP = parse_utc("2030-07-01")
SETTINGS = CalibrateSettings()
EVERY = list(KINDS)


def entry(kind: str, time: int, **fields: Any) -> dict[str, Any]:
    """An entry of the field log."""
    key = "from" if kind in ("visit", "power") else "time"
    return {"id": f"{kind}-{time}", "type": kind, key: time, "role": "technician"} | fields


def level(time: int, found: float, left: float | None = None, **fields: Any) -> dict[str, Any]:
    """A level check of the global."""
    sizes = {"found": {"size": found}, "left": None if left is None else {"size": left}}
    return entry("level_check", time, position="global_1", **(sizes | fields))


def levels(*entries: dict[str, Any]) -> list[tuple[int, int]]:
    """Doubtful intervals of the global's level."""
    found = level_conditions(station_config(entries=list(entries)), SETTINGS)
    return [(i.start, i.end) for i in found if i.target == "global_1"]


# --- doubt runs backwards ------------------------------------------------------------------


def test_bad_level_makes_the_time_since_the_last_good_check_doubtful() -> None:
    """Over months, from the good as-left check to the bad as-found one."""
    later = MARCH + 100 * DAY
    assert levels(level(MARCH, 0.1, 0.0), level(later, 1.0, 0.0)) == [(MARCH, later)]


def test_doubt_stops_at_the_installation() -> None:
    """Without a check before, from the day the instrument was put up."""
    assert levels(level(MARCH, 1.0, 0.0)) == [(PUT_UP, MARCH)]


def test_doubt_never_reaches_another_instrument() -> None:
    """An exchange between the good check and the bad one is where it stops."""
    swap = MARCH + 10 * DAY
    entries = [
        {"id": "off", "type": "removal", "time": swap, "deployment": "dep-global_1", "role": "t"},
        deployment("global_1", id="again", **{"from": swap}),
        level(MARCH, 0.1, 0.0),
        level(swap + 20 * DAY, 1.0, 0.0),
    ]
    assert levels(*entries) == [(swap, swap + 20 * DAY)]


def test_left_bad_is_doubtful_until_the_next_check() -> None:
    """It was out of level when they went away, whatever the next check finds."""
    later = MARCH + 9 * DAY
    assert levels(level(MARCH, 0.1, 0.9), level(later, 0.1)) == [(MARCH, later)]
    assert levels(level(MARCH, 0.1, 0.9), level(later, 0.8, 0.0)) == [(MARCH, later)]


def test_left_bad_without_a_next_check_stays_doubtful() -> None:
    """Until further notice."""
    assert levels(level(MARCH, 0.1, 0.9)) == [(MARCH, FAR_FUTURE)]


def test_left_bad_ends_with_the_instrument() -> None:
    """The next instrument at the position was not left out of level."""
    swap = MARCH + 10 * DAY
    removal = {
        "id": "o",
        "type": "removal",
        "time": swap,
        "deployment": "dep-global_1",
        "role": "t",
    }
    again = deployment("global_1", id="again", **{"from": swap})
    assert levels(removal, again, level(MARCH, 0.1, 0.9)) == [(MARCH, swap)]


def test_a_good_check_makes_nothing_doubtful() -> None:
    """Found and left within tolerance; the tolerance itself is within."""
    assert levels(level(MARCH, 0.2), level(MARCH + DAY, 0.0, 0.1)) == []
    assert levels(level(MARCH, 0.21, 0.0)) == [(PUT_UP, MARCH)]


def test_what_stands_after_tightening_is_what_was_left() -> None:
    """Level before and out of level after the last screw is left bad."""
    checks = level(MARCH, 0.1, 0.0, after_tightening={"size": 0.6}), level(MARCH + DAY, 0.1, 0.0)
    assert levels(*checks) == [(MARCH, MARCH + DAY)]


def test_found_bad_and_left_untouched_is_doubtful_on_both_sides() -> None:
    """Without an as-left value the check left what it found."""
    assert levels(level(MARCH, 0.9)) == [(PUT_UP, MARCH), (MARCH, FAR_FUTURE)]


def test_checks_count_by_time() -> None:
    """The order of writing does not matter."""
    good, bad = level(MARCH, 0.1), level(MARCH + DAY, 1.0, 0.0)
    assert levels(bad, good) == levels(good, bad) == [(MARCH, MARCH + DAY)]


def test_no_check_makes_nothing_doubtful() -> None:
    """Also not where another instrument at the position was checked."""
    assert list(backward_doubt([], "level_doubtful", "x", 0)) == []


def test_backward_doubt_by_hand() -> None:
    """Good, bad left good, bad left bad, good: three intervals."""
    rows = [
        (10, True, True, "a"),
        (20, False, True, "b"),
        (30, False, False, "c"),
        (40, True, True, "d"),
    ]
    got = [(i.start, i.end, i.cause) for i in backward_doubt(rows, "level_doubtful", "x", 0)]
    assert got == [(10, 20, "b"), (20, 30, "c"), (30, 40, "c")]


def test_shade_found_out_of_place() -> None:
    """Every position named is doubtful since the last alignment that was found right."""
    align = {"positions": ["diffuse_1", "sky_1"], "found": "as it should be"}
    right = entry("shade_alignment", MARCH, **align)
    wrong = entry("shade_alignment", MARCH + DAY, out_of_place=True, **align)
    got = list(sensor_conditions(station_config(entries=[right, wrong]), SETTINGS))
    assert [(i.condition, i.target, i.start, i.end) for i in got] == [
        ("shade_doubtful", position, MARCH, MARCH + DAY) for position in ("diffuse_1", "sky_1")
    ]


@pytest.mark.parametrize("error", [0.31, -0.31])
def test_thermal_sensor_in_error(error: float) -> None:
    """Either sign; left in error it stays doubtful."""
    row = entry("thermal_sensor_check", MARCH, position="sky_1", found=error)
    (before, after) = sensor_conditions(station_config(entries=[row]), SETTINGS)
    assert (before.condition, before.start, before.end) == (
        "thermal_sensor_doubtful",
        PUT_UP,
        MARCH,
    )
    assert (after.start, after.end) == (MARCH, FAR_FUTURE)


def test_clock_that_drifted_too_far() -> None:
    """Between two checks only; what was left counts, not what was found."""
    rows = [
        entry("clock_check", MARCH + i * DAY, logger="main", found=found, left=left)
        for i, (found, left) in enumerate([(500.0, 0.0), (119.0, 119.0), (0.0, 0.0), (121.0, 0.0)])
    ]
    got = list(clock_conditions(station_config(entries=rows), 120.0))
    assert [(i.target, i.start, i.end) for i in got] == [("main", MARCH + 2 * DAY, MARCH + 3 * DAY)]


# --- deployments and certificates ----------------------------------------------------------


def deployments(config: StationConfig) -> dict[str, tuple[int, int]]:
    """First interval of each condition of the global's deployment."""
    found = sorted(deployment_conditions(config, SETTINGS), reverse=True)
    return {i.condition: (i.start, i.end) for i in found if i.target == "global_1"}


def with_global(*certificates: dict[str, Any], **changes: Any) -> StationConfig:
    """The invented station with other certificates of the global."""
    others = [instrument(p) for p in EVERY[1:]]
    return station_config(instruments=[instrument("global_1", *certificates), *others], **changes)


def test_before_the_deployment_there_is_none() -> None:
    """From the far past to the day it was put up."""
    assert deployments(with_global())["no_deployment"] == (FAR_PAST, PUT_UP)


def test_certificate_after_the_deployment() -> None:
    """No calibration until it was written; and none at all without one."""
    late = certificate("global_1", date="2031-01-01")
    assert deployments(with_global(late))["no_calibration"] == (PUT_UP, parse_utc("2031-01-01"))
    config = with_global()
    bare = config.inventory.model_copy(
        update={
            "instruments": tuple(
                i.model_copy(update={"calibrations": ()}) for i in config.inventory.instruments
            )
        }
    )
    config = StationConfig(config.station, bare, config.fieldlog, config.review)
    assert deployments(config)["no_calibration"] == (PUT_UP, FAR_FUTURE)


def test_certificate_expires_until_the_next() -> None:
    """730 days after its date, to the day of the next one."""
    old = certificate("global_1", date="2028-07-15")
    new = certificate("global_1", date="2031-05-01", certificate="new")
    expired = deployments(with_global(old, new))["calibration_expired"]
    assert expired == (parse_utc("2028-07-15") + 730 * DAY, parse_utc("2031-05-01"))


def test_uncorrected_band() -> None:
    """A band without its correction marks the whole deployment."""
    banded = deployment("global_1", id="band", shade="band", corrects="dep-global_1", reason="typo")
    got = deployments(station_config(entries=[banded]))
    assert got["shade_band_uncorrected"] == (PUT_UP, FAR_FUTURE)


# --- work and review -----------------------------------------------------------------------


def work(*entries: dict[str, Any]) -> list[ConditionInterval]:
    """Work conditions with a margin of two minutes."""
    return list(work_conditions(station_config(entries=list(entries)), 120))


def test_visit_bears_on_everything_with_a_margin() -> None:
    """From two minutes before to two minutes after, on all positions unless some are named."""
    (got,) = work(entry("visit", MARCH, until=MARCH + 600))
    assert got == ConditionInterval("maintenance", "*", MARCH - 120, MARCH + 720, f"visit-{MARCH}")
    named = work(entry("power", MARCH, until=MARCH + 600, positions=["direct_1", "sky_1"]))
    assert [i.target for i in named] == ["direct_1", "sky_1"]


def test_cleaning_tells_of_soiling_since() -> None:
    """The cleaning itself is maintenance; the loss before it is in the record."""
    row = entry(
        "cleaning", MARCH, positions=["global_1"], found="dust", soiled_since=MARCH - 5 * DAY
    )
    got = {i.condition: (i.start, i.end) for i in work(row)}
    assert got == {
        "maintenance": (MARCH - 120, MARCH + 120),
        "soiling_recorded": (MARCH - 5 * DAY, MARCH),
    }


def test_ventilator_found_off() -> None:
    """Off since a known time, until it was noted."""
    row = entry("ventilator", MARCH, positions=["global_1"], found="off", off_since=MARCH - DAY)
    assert ("ventilation_off", MARCH - DAY, MARCH) in [
        (i.condition, i.start, i.end) for i in work(row)
    ]


def test_homing_has_its_own_bit() -> None:
    """Homing is not maintenance; an alignment is."""
    homing = entry("tracker_homing", MARCH, until=MARCH + 300, found="lost", positions=["direct_1"])
    aligned = entry("tracker_alignment", MARCH, found="right", positions=["direct_1"])
    assert [i.condition for i in work(homing)] == ["tracker_homing"]
    assert [i.condition for i in work(aligned)] == ["maintenance"]


def test_a_level_check_is_work_at_its_position() -> None:
    """Somebody bends over the instrument."""
    (got,) = work(level(MARCH, 0.0))
    assert (got.condition, got.target) == ("maintenance", "global_1")


def test_review_by_quantity() -> None:
    """Accepting and rejecting set their own bits."""
    decision = {"reason": "looked at", "role": "reviewer", "decided": MARCH + 40 * DAY}
    decisions = [
        {
            "id": "r1",
            "from": MARCH,
            "until": MARCH + 60,
            "quantities": ["ghi", "dhi"],
            "decision": "accept",
        }
        | decision,
        {
            "id": "r2",
            "from": MARCH,
            "until": MARCH + 60,
            "quantities": ["dni"],
            "decision": "reject",
        }
        | decision,
    ]
    got = list(review_conditions(station_config(decisions=decisions)))
    assert [(i.condition, i.target) for i in got] == [
        ("review_accepted", "ghi"),
        ("review_accepted", "dhi"),
        ("review_rejected", "dni"),
    ]


# --- all together --------------------------------------------------------------------------


def everything() -> StationConfig:
    """A record with something of every kind that reaches into 16 March 2031."""
    decision = {
        "id": "r",
        "from": MARCH - DAY,
        "until": MARCH + 9 * DAY,
        "quantities": ["ghi"],
        "decision": "reject",
        "reason": "x",
        "role": "r",
        "decided": MARCH + 40 * DAY,
    }
    rows = [
        level(MARCH + 30 * DAY, 1.0, 0.0),
        entry("visit", MARCH + 3600, until=MARCH + 7200),
        entry("clock_check", MARCH - 5 * DAY, logger="main", found=0.0),
        entry("clock_check", MARCH + 5 * DAY, logger="main", found=300.0, left=0.0),
        entry("thermal_sensor_check", MARCH + 2 * DAY, position="sky_1", found=1.0, left=0.0),
        entry("cleaning", MARCH + DAY, positions=["direct_1"], found="dust", soiled_since=MARCH),
    ]
    return station_config(entries=rows, decisions=[decision])


def test_everything_is_clipped_to_the_period_and_sorted() -> None:
    """Nothing reaches outside, nothing is empty, and every word is a condition."""
    got = condition_intervals(everything(), Processing(), MARCH, MARCH + DAY)
    assert all(MARCH <= i.start < i.end <= MARCH + DAY for i in got)
    assert list(got) == sorted(got)
    assert {i.condition for i in got} == {
        "clock_doubtful",
        "level_doubtful",
        "maintenance",
        "review_rejected",
        "soiling_recorded",
        "thermal_sensor_doubtful",
    }
    assert {i.condition for i in got} <= set(CONDITIONS)


def test_clipping_a_part_gives_the_part_of_the_whole() -> None:
    """However time is cut, the same bits hold."""
    config, middle = everything(), MARCH + 5400
    parts = [
        *condition_intervals(config, Processing(), MARCH, middle),
        *condition_intervals(config, Processing(), middle, MARCH + DAY),
    ]
    whole = condition_intervals(config, Processing(), MARCH, MARCH + DAY)
    lengths = [{i.cause: 0 for i in whole}, {i.cause: 0 for i in whole}]
    for sums, rows in zip(lengths, (whole, parts), strict=True):
        for i in rows:
            sums[i.cause] += i.end - i.start
    assert lengths[0] == lengths[1]


def test_a_corrected_entry_says_nothing_any_more() -> None:
    """Only what corrects it is in force."""
    wrong = entry("visit", MARCH, until=MARCH + 9 * DAY)
    right = entry("visit", MARCH, until=MARCH + 600, corrects=wrong["id"], reason="wrong day") | {
        "id": "b"
    }
    (got,) = condition_intervals(
        station_config(entries=[wrong, right]), Processing(), MARCH, MARCH + DAY
    )
    assert (got.end, got.cause) == (MARCH + 720, "b")
