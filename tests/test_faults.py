"""The fault models have the size and shape they state, and touch nothing outside their period."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pvlib
import pytest

from faults import clocks, domes, files, levelling, pointing, signals
from faults.readings import Light, Statistics

MINUTES = np.arange(0.0, 86400.0, 60.0)
START, END = 36000.0, 43200.0
INSIDE = (MINUTES >= START) & (MINUTES < END)

ON_LIGHT = (
    pointing.tracker_stopped,
    pointing.pyrheliometer_slipped,
    pointing.shade_leaking,
    pointing.shade_misaligned,
    pointing.beam_obstructed,
    domes.soiled,
    domes.dome_frosted,
    domes.ventilator_off,
    domes.water_in_dome,
    levelling.level_out,
)
ON_SIGNAL = (
    signals.stuck,
    signals.polarity_reversed,
    signals.sensitivity_wrong,
    signals.spike,
    signals.cable_off,
    signals.over_range,
)


def clear_day() -> Light:
    """A day of steady beam with the sun rising in the east and setting in the west."""
    angle = (MINUTES - 43200.0) / 240.0
    zenith = 40.0 + 0.6 * np.abs(angle)
    azimuth = (180.0 + 1.2 * angle) % 360.0
    beam = np.where(zenith < 90.0, 850.0, 0.0)
    dhi = np.where(zenith < 90.0, 80.0, 0.0)
    flat = np.clip(np.cos(np.radians(zenith)), 0.0, None)
    emission = np.full(MINUTES.size, 320.0)
    return Light(
        MINUTES, zenith, azimuth, dhi + beam * flat, dhi, beam, beam, emission - 90.0, emission
    )


def as_statistics(values: np.ndarray, spread: float = 5.0) -> Statistics:
    """Statistics about given means."""
    return Statistics(values, values - spread, values + spread, np.full(values.size, spread / 2))


@pytest.mark.parametrize("fault", ON_LIGHT)
def test_light_is_changed_only_inside_the_period(fault: Callable[..., Light]) -> None:
    """Nothing before or after; something inside."""
    before, after = clear_day(), fault(clear_day(), START, END)
    changed = np.zeros(MINUTES.size, dtype=bool)
    for component in ("ghi", "dhi", "dni", "lwd"):
        changed |= getattr(before, component) != getattr(after, component)
    assert changed[INSIDE].any()
    assert not changed[~INSIDE].any()


@pytest.mark.parametrize("fault", ON_SIGNAL)
@pytest.mark.parametrize("of", [np.asarray, as_statistics])
def test_signal_is_changed_only_inside_the_period(
    fault: Callable[..., Any], of: Callable[..., Any]
) -> None:
    """Holds for samples and for statistics alike, and the input is left as it was."""
    values = 100.0 + MINUTES / 100.0
    before, kept = of(values), values.copy()
    after = fault(before, MINUTES, START, END)
    means = [v.mean if isinstance(v, Statistics) else v for v in (before, after)]
    changed = means[0] != means[1]
    assert changed[INSIDE][1:].all()
    assert not changed[~INSIDE].any()
    np.testing.assert_array_equal(values, kept)


def test_statistics_scale_and_shift_like_their_samples() -> None:
    """The arithmetic agrees with statistics taken after the arithmetic on the samples."""
    samples = np.random.default_rng(3).normal(50.0, 9.0, (7, 60))

    def taken(values: np.ndarray) -> Statistics:
        return Statistics(values.mean(1), values.min(1), values.max(1), values.std(1))

    for factor, shift in ((0.8, 0.0), (-1.0, 4.0), (1.1, -20.0)):
        expected, got = taken(samples * factor + shift), factor * taken(samples) + shift
        for name in ("mean", "minimum", "maximum", "deviation"):
            np.testing.assert_allclose(getattr(got, name), getattr(expected, name), rtol=1e-12)


def test_stopped_tracker_follows_its_stated_angles() -> None:
    """Full beam for 4 min, none after 16; the shade uncovers later than the direct fades."""
    light = pointing.tracker_stopped(clear_day(), START, END)
    after = (MINUTES - START) / 60.0
    seen = light.dni / 850.0
    flat = np.maximum(clear_day().cos_zenith, 1e-9)
    leaked = (light.dhi - clear_day().dhi) / (850.0 * flat)
    assert seen[INSIDE & (after <= 4.0)] == pytest.approx(1.0)
    assert seen[after == 10.0] == pytest.approx(0.5)
    assert seen[INSIDE & (after >= 16.0)] == pytest.approx(0.0)
    assert leaked[INSIDE & (after <= 8.0)] == pytest.approx(0.0, abs=1e-12)
    assert leaked[INSIDE & (after >= 15.0)] == pytest.approx(1.0)
    # With the beam on both instruments, the shaded one reads the global.
    late = INSIDE & (after >= 15.0)
    np.testing.assert_allclose(light.dhi[late], light.ghi[late])


def test_stopped_tracker_is_slower_away_from_the_equator_of_the_sky() -> None:
    """At 60 degrees declination the sun moves at half the rate."""
    seen = pointing.tracker_stopped(clear_day(), START, END, declination=60.0).dni
    assert seen[MINUTES == START + 1200.0] == pytest.approx(425.0)


def test_slipped_pyrheliometer_leaves_the_diffuse_alone() -> None:
    """Only a little skylight remains in the direct."""
    light = pointing.pyrheliometer_slipped(clear_day(), START, END)
    np.testing.assert_array_equal(light.dhi, clear_day().dhi)
    assert light.dni[INSIDE] == pytest.approx(0.003 * 80.0)


@pytest.mark.parametrize("share", [0.1, 0.2, 1.0])
def test_leaking_shade_adds_its_share_of_the_beam(share: float) -> None:
    """In the horizontal, not at normal incidence."""
    light = pointing.shade_leaking(clear_day(), START, END, share)
    added = (light.dhi - clear_day().dhi)[INSIDE]
    np.testing.assert_allclose(added, share * 850.0 * clear_day().cos_zenith[INSIDE])


def test_misaligned_shade_leaks_most_at_its_azimuth() -> None:
    """All of the share there, nothing sixty degrees away, across north as well."""
    day = clear_day()
    azimuth = np.full(MINUTES.size, 350.0)
    azimuth[MINUTES == START] = 20.0
    azimuth[MINUTES == START + 60.0] = 80.0
    turned = Light(MINUTES, day.zenith, azimuth, day.ghi, day.dhi, day.dni, day.beam)
    light = pointing.shade_misaligned(turned, START, END, 0.3, azimuth=20.0)
    leak = (light.dhi - day.dhi) / (day.beam * day.cos_zenith + (day.cos_zenith == 0))
    assert leak[MINUTES == START] == pytest.approx(0.3)
    assert leak[MINUTES == START + 60.0] == pytest.approx(0.0, abs=1e-12)
    assert leak[MINUTES == START + 120.0] == pytest.approx(0.3 * 0.5, rel=1e-6)


def test_soiling_grows_evenly_to_the_stated_loss() -> None:
    """Half the loss half-way, none after the cleaning."""
    light = domes.soiled(clear_day(), START, END, "dni", loss=0.05)
    assert light.dni[MINUTES == (START + END) / 2] == pytest.approx(850.0 * 0.975)
    assert light.dni[MINUTES == END] == pytest.approx(850.0)


def test_frost_grows_stays_and_thaws() -> None:
    """A quarter of the period up, two fifths down; a frosted pyrgeometer sees its own emission."""
    cover = domes.frost_cover(clear_day(), START, END)
    assert cover[MINUTES == START + 900.0] == pytest.approx(0.5)
    assert cover[MINUTES == START + 3600.0] == pytest.approx(1.0)
    assert cover[MINUTES == END - 1440.0] == pytest.approx(0.5)
    frosted = domes.dome_frosted(clear_day(), START, END, "lwd")
    assert frosted.lwd[MINUTES == START + 3600.0] == pytest.approx(320.0)


def test_frost_on_a_pyrgeometer_needs_the_emission() -> None:
    """The message says what is missing."""
    day = clear_day()
    bare = Light(MINUTES, day.zenith, day.azimuth, day.ghi, day.dhi, day.dni, day.beam, day.lwd)
    with pytest.raises(ValueError, match="needs the emission"):
        domes.dome_frosted(bare, START, END, "lwd")
    with pytest.raises(ValueError, match="needs the longwave and the emission"):
        domes.ventilator_off(bare, START, END)


def test_standing_ventilator_adds_its_offset_within_half_an_hour() -> None:
    """90 W m-2 of net loss at 3 % are 2.7 W m-2."""
    change = domes.ventilator_off(clear_day(), START, END).ghi - clear_day().ghi
    assert change[MINUTES == START + 900.0] == pytest.approx(-1.35)
    assert change[MINUTES == END - 60.0] == pytest.approx(-2.7)


@pytest.mark.parametrize("toward", [0.0, 90.0, 200.0])
def test_tilt_agrees_with_an_independent_library(toward: float) -> None:
    """pvlib's angle-of-incidence projection gives the same cosines."""
    day = clear_day()
    tilted = pvlib.irradiance.aoi_projection(2.0, toward, day.zenith, day.azimuth)
    flat = np.maximum(np.cos(np.radians(day.zenith)), 0.0)
    expected = np.maximum(tilted, 0.0) - flat
    got = levelling.cosine_change(day.zenith, day.azimuth, 2.0, toward)
    np.testing.assert_allclose(got, expected, atol=1e-12)


def test_published_effect_of_a_tenth_of_a_degree() -> None:
    """
    A tenth of a degree is 1 % of the direct at 10 degrees elevation.

    BSRN Operations Manual v2.1 (McArthur 2005, WCRP-121, WMO/TD-No. 1274), p. 32.
    """
    zenith, azimuth = np.array([80.0]), np.array([120.0])
    change = levelling.cosine_change(zenith, azimuth, 0.1, 120.0) / np.cos(np.radians(80.0))
    assert change[0] == pytest.approx(0.01, abs=0.0005)


def test_stuck_channel_freezes_all_statistics() -> None:
    """Mean, minimum, maximum and deviation of the first row stay."""
    values = as_statistics(MINUTES / 10.0)
    frozen = signals.stuck(values, MINUTES, START, END)
    for name in ("mean", "minimum", "maximum", "deviation"):
        assert np.unique(getattr(frozen, name)[INSIDE]).size == 1
    assert frozen.mean[INSIDE][0] == START / 10.0


def test_stuck_outside_the_data_changes_nothing() -> None:
    """A period without rows is no error."""
    values = MINUTES.copy()
    assert signals.stuck(values, MINUTES, 1e9, 2e9) is values


def test_reversed_polarity_turns_the_extremes_round() -> None:
    """The minimum stays below the maximum."""
    turned = signals.polarity_reversed(as_statistics(np.full(1440, 300.0)), MINUTES, START, END)
    assert (turned.minimum <= turned.mean).all()
    assert turned.maximum[INSIDE] == pytest.approx(-295.0)
    assert turned.deviation[INSIDE] == pytest.approx(2.5)


def test_swapped_sensitivities_have_the_stated_ratio() -> None:
    """One is too large by it and the other too small by it."""
    ones = np.ones(MINUTES.size)
    first, second = signals.sensitivities_swapped(ones, ones, MINUTES, START, END, 1.05)
    assert first[INSIDE] == pytest.approx(1.05)
    assert second[INSIDE] == pytest.approx(1.0 / 1.05)


def test_clock_drifts_between_checks_and_is_set() -> None:
    """Linear in a run, held outside, a step at the setting."""
    runs = (((0.0, 0.0), (100.0, 50.0)), ((100.0, -2.0), (200.0, 8.0)))
    error = clocks.clock_error(np.array([-5.0, 50.0, 99.0, 100.0, 150.0, 999.0]), runs)
    np.testing.assert_allclose(error, [0.0, 25.0, 49.5, -2.0, 3.0, 8.0])


def test_clock_ahead_stands_later() -> None:
    """A value taken at minute 10 is labelled 15 by a clock five minutes ahead."""
    assert clocks.clock_out(np.arange(20.0), 5)[15] == 10.0
    assert clocks.clock_out(as_statistics(np.arange(20.0)), -5).mean[5] == 10.0


def test_power_gap_is_half_open() -> None:
    """The row at the end is written again."""
    kept = files.power_gap(MINUTES, START, END)
    np.testing.assert_array_equal(kept, ~INSIDE)


def test_second_delivery_repeats_both_days_lines() -> None:
    """End of the first, beginning of the second, one header."""
    first, second = ["h", "a", "b", "c"], ["h", "d", "e"]
    assert files.delivered_twice(first, second, 1, 2, 1) == ["h", "b", "c", "d"]


def test_spoilt_lines_differ_and_are_reproducible() -> None:
    """Garbled keeps the length, truncated is a beginning; the same seed spoils alike."""
    line = "2031-04-02 10:00:00,1.2345,0.1,0.2"
    garbled = files.garbled(line, np.random.default_rng(1))
    assert len(garbled) == len(line)
    assert garbled != line
    assert garbled == files.garbled(line, np.random.default_rng(1))
    cut = files.truncated(line, np.random.default_rng(1))
    assert line.startswith(cut)
    assert 0 < len(cut) < len(line)
