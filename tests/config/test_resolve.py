"""The resolved configuration of a period: what bears on it, and nothing else."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from invented import DAY, KINDS, MARCH, certificate, instrument, logger, period, station_config
from sunledger.config.clocks import ClockSegment
from sunledger.config.models.base import FAR_FUTURE, FAR_PAST, parse_utc
from sunledger.config.models.processing import Processing
from sunledger.config.resolve import primary_periods, resolve_period, since_there

JUNE = parse_utc("2031-06-10")


def level_check(time: int, found: float, left: float | None = None) -> dict[str, Any]:
    """A level check of the global."""
    return {
        "id": f"level-{time}",
        "type": "level_check",
        "time": time,
        "position": "global_1",
        "found": {"size": found},
        "left": None if left is None else {"size": left},
        "role": "technician",
    }


def clock_check(time: int, found: float, left: float | None = None) -> dict[str, Any]:
    """A clock check of the only logger."""
    return {
        "id": f"clock-{time}",
        "type": "clock_check",
        "time": time,
        "logger": "main",
        "found": found,
        "left": left,
        "role": "technician",
    }


def visit(time: int) -> dict[str, Any]:
    """Half an hour on the platform."""
    return {
        "id": f"visit-{time}",
        "type": "visit",
        "from": time,
        "until": time + 1800,
        "role": "technician",
    }


@pytest.mark.parametrize("days", [-40, 3, 90])
def test_a_note_outside_the_period_leaves_it_equal(days: int) -> None:
    """That is the rule of staleness: what does not bear on a period does not change it."""
    time = MARCH + days * DAY
    noted = station_config(entries=[visit(time), level_check(time + 60, 0.1)])
    assert period(noted) == period(station_config())


def test_a_note_inside_the_period_changes_it() -> None:
    """A visit during the day is part of what the stages read."""
    assert period(station_config(entries=[visit(MARCH + 3600)])) != period(station_config())


def test_a_bad_check_reaches_back_to_the_last_good_one_and_no_further() -> None:
    """Found out of level in June: doubtful since the good check of 20 March."""
    good = level_check(MARCH + 4 * DAY, 0.05, 0.05)
    before = station_config(entries=[good])
    after = station_config(entries=[good, level_check(JUNE, 1.0, 0.05)])
    assert period(after, MARCH, 4) == period(before, MARCH, 4)
    for start in (MARCH + 4 * DAY, parse_utc("2031-05-01"), JUNE - DAY):
        assert period(after, start) != period(before, start)
    assert period(after, JUNE + DAY) == period(before, JUNE + DAY)


def test_a_later_clock_check_retimes_back_to_the_one_before() -> None:
    """The time since the last check was unverified; a later check changes it and nothing else."""
    first = clock_check(MARCH + 2 * DAY, 10, 0)
    before = station_config(entries=[first])
    after = station_config(entries=[first, clock_check(JUNE, 30, 0)])
    assert period(after, MARCH) == period(before, MARCH)
    assert period(after, MARCH + 3 * DAY) != period(before, MARCH + 3 * DAY)


def test_a_certificate_changes_every_month_back_to_the_one_before() -> None:
    """Interpolation to a certificate of 2032 begins at that of June 2030."""
    later = certificate("global_1", certificate="later", date="2032-06-01")
    later["sensitivity"] = {"as_left": 8.2, "unit": "uV W-1 m2"}
    instruments = [instrument(p) for p in KINDS]
    recalibrated = [instrument("global_1", certificate("global_1"), later), *instruments[1:]]
    one, two = station_config(instruments=instruments), station_config(instruments=recalibrated)
    assert period(one) != period(two)
    held = Processing.model_validate({"calibrate": {"policy": "latest_before"}})
    assert period(one, processing=held) == period(two, processing=held)


def test_another_period_differs_only_in_its_bounds_when_nothing_happened() -> None:
    """Two quiet days resolve to the same, but for what is clipped to them."""
    config = station_config()
    one, two = period(config, MARCH), period(config, MARCH + DAY)
    assert one.loggers == two.loggers
    clipped = [replace(r, start=MARCH, end=MARCH + DAY) for r in two.coefficients]
    assert list(one.coefficients) == clipped
    assert one.conditions == two.conditions == ()


def test_segments_near_the_period_only() -> None:
    """Checks far away, with the clock never set back over the period, do not bear on it."""
    far = [clock_check(MARCH + d * DAY, 5.0 + d, 0) for d in (-60, -30, 30, 60)]
    (main,) = period(station_config(entries=far)).loggers
    assert [(s.start, s.end) for s in main.segments] == [(MARCH - 30 * DAY, MARCH + 30 * DAY)]


@pytest.mark.parametrize("days", [1, 2, 3])
def test_a_setting_back_over_the_period_bears_on_it(days: int) -> None:
    """A clock three days ahead is set back after the period: the period's labels come again.

    Only with both segments can the two be told apart.
    """
    set_back = clock_check(MARCH + days * DAY, 3 * DAY, 0)
    ahead = clock_check(MARCH - 20 * DAY, 3 * DAY)
    (main,) = period(station_config(entries=[ahead, set_back])).loggers
    # what the period's own clock shows, [MARCH + 3 d, MARCH + 4 d), comes again after the setting
    assert MARCH + days * DAY in [s.start for s in main.segments]


def test_a_clock_that_restarted_years_away_does_not_bear_on_it() -> None:
    """Labels of another decade cannot be mistaken for those of the period."""
    lost = clock_check(MARCH + 5 * DAY, 3, -60 * 365 * DAY)
    found = clock_check(MARCH + 9 * DAY, -60 * 365 * DAY, 0)
    (main,) = period(station_config(entries=[lost, found])).loggers
    assert [s.error_start for s in main.segments] == [3.0]


@pytest.mark.parametrize(("error", "begins"), [(-31 * 365 * DAY, "site"), (-DAY, "ever")])
def test_before_the_station_only_a_lost_clock_writes(error: int, begins: str) -> None:
    """Labels from before the first site period are of no true time, once a check explains them."""
    first_site = parse_utc("2030-01-01")
    segments = (
        ClockSegment(FAR_PAST, MARCH, 0.0, 0.0, False),
        ClockSegment(MARCH, MARCH + DAY, float(error), float(error), True),
        ClockSegment(MARCH + DAY, FAR_FUTURE, 0.0, 0.0, False),
    )
    got = since_there(segments, first_site)
    assert got[0].start == (first_site if begins == "site" else FAR_PAST)
    assert got[1:] == segments[1:]
    assert since_there(segments, MARCH + 1) == segments
    assert since_there(segments[:1], first_site) == segments[:1]


def test_resolved_logger_holds_what_the_stages_need() -> None:
    """Zone, interval, label convention and channels as written."""
    config = station_config({"main": logger(("global_1",), utc_offset="-03:30", label="start")})
    (main,) = period(config).loggers
    assert (main.utc_offset, main.interval, main.label) == (-12600, 60, "start")
    assert main.channels == config.station.loggers["main"].channels


def test_quantities_in_the_order_of_their_positions() -> None:
    """Each once."""
    assert period(station_config()).quantities() == ("ghi", "dhi", "dni", "lwd")


def two_globals(*primary: dict[str, Any]) -> Any:
    """A station with two global positions and a dated primary."""
    channels = [
        {"column": p, "position": p, "quantity": "ghi", "unit": "mV"} for p in ("near", "far")
    ]
    return station_config({"main": logger((), channels=channels)}, primary=list(primary)).station


def test_primary_without_an_entry_is_the_first_position() -> None:
    """Over the whole period."""
    assert primary_periods(two_globals(), 0, 100) == (("ghi", "near", 0, 100),)


def test_dated_primary_parts_the_period() -> None:
    """The first position until the entry, then the one named, clipped to the period."""
    change = {"from": MARCH + 3600, "quantity": "ghi", "position": "far"}
    got = primary_periods(two_globals(change), MARCH, MARCH + DAY)
    assert got == (
        ("ghi", "near", MARCH, MARCH + 3600),
        ("ghi", "far", MARCH + 3600, MARCH + DAY),
    )


@pytest.mark.parametrize(("offset", "holder"), [(-DAY, "far"), (0, "far"), (DAY, "near")])
def test_dated_primary_outside_the_period(offset: int, holder: str) -> None:
    """An entry before the period, or at its start, holds for all of it; a later one for none."""
    change = {"from": MARCH + offset, "quantity": "ghi", "position": "far"}
    got = primary_periods(two_globals(change), MARCH, MARCH + DAY)
    assert got == (("ghi", holder, MARCH, MARCH + DAY),)


def test_period_holds_the_site_and_the_settings() -> None:
    """Coordinates, bounds and processing are passed on as they are."""
    settings = Processing.model_validate({"calibrate": {"policy": "latest_before"}})
    got = resolve_period(station_config(latitude=-30.0), settings, MARCH, MARCH + DAY)
    assert (got.station_id, got.latitude, got.start, got.end) == ("tst", -30.0, MARCH, MARCH + DAY)
    assert got.processing is settings
