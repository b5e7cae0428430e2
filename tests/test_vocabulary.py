"""The words of the archive: names and bits that programs of researchers rely on."""

from __future__ import annotations

import pytest

from sunledger.vocabulary import (
    AIR,
    CONDITIONS,
    DERIVED,
    GRADES,
    LINEAR,
    LONGWAVE,
    QUANTITIES,
    RADIOMETRIC,
    SHORTWAVE,
    TESTS,
    WITHHELD,
    mask_of,
)

# The allotment as published. A bit is never given a second meaning: append, never edit.
ALLOTTED_TESTS = [
    (1, "missing"),
    (2, "over_range"),
    (4, "below_physical_minimum"),
    (8, "above_physical_maximum"),
    (16, "below_rare_minimum"),
    (32, "above_rare_maximum"),
    (64, "outside_site_limits"),
    (128, "components_disagree"),
    (256, "diffuse_above_global"),
    (512, "twins_disagree"),
    (1024, "longwave_against_air_temperature"),
    (2048, "longwave_down_against_up"),
    (4096, "stuck_value"),
    (8192, "spike"),
    (16384, "spread_inconsistent"),
    (32768, "night_offset_large"),
    (65536, "polarity_reversed"),
    (131072, "frost_or_ventilation"),
    (262144, "tracker_off_sun"),
    (524288, "shade_misaligned"),
    (1048576, "pyrheliometer_off_sun"),
    (2097152, "beam_obstructed"),
    (4194304, "soiled"),
    (8388608, "below_horizon_profile"),
    (16777216, "components_disagree_for_long"),
    (33554432, "outside_credible_range"),
    (67108864, "zenith_changes_fast"),
    (134217728, "changes_too_fast"),
]
ALLOTTED_CONDITIONS = [
    (1, "no_deployment"),
    (2, "no_calibration"),
    (4, "calibration_expired"),
    (8, "outside_certificate_range"),
    (16, "clock_unverified"),
    (32, "clock_doubtful"),
    (64, "interval_doubled"),
    (128, "interval_emptied"),
    (256, "label_conflict"),
    (512, "line_rejected"),
    (1024, "level_doubtful"),
    (2048, "shade_doubtful"),
    (4096, "thermal_sensor_doubtful"),
    (8192, "maintenance"),
    (16384, "tracker_homing"),
    (32768, "ventilation_off"),
    (65536, "soiling_recorded"),
    (131072, "review_accepted"),
    (262144, "review_rejected"),
    (524288, "few_samples"),
    (1048576, "correction_not_applied"),
    (2097152, "clocks_apart"),
    (4194304, "shade_band_uncorrected"),
    (8388608, "supply_low"),
]
ALLOTTED_WITHHELD = [
    *((1, "no_valid_sample"), (2, "low_coverage"), (4, "composite_incomplete"), (8, "undefined")),
    *((16, "few_days"), (32, "few_months")),
]

WORDS = {
    "tests": (TESTS, ALLOTTED_TESTS),
    "conditions": (CONDITIONS, ALLOTTED_CONDITIONS),
    "withheld": (WITHHELD, ALLOTTED_WITHHELD),
}


@pytest.mark.parametrize("word", WORDS)
def test_a_bit_keeps_its_meaning_for_ever(word: str) -> None:
    """Every allotted mask still has the name under which it was published."""
    bits, allotted = WORDS[word]
    now = [(bit.mask, bit.name) for bit in bits.values()]
    assert now[: len(allotted)] == allotted


@pytest.mark.parametrize("word", WORDS)
def test_new_bits_are_added_to_the_list_here(word: str) -> None:
    """A bit that is not yet in the list above is published too, and has to be pinned."""
    bits, allotted = WORDS[word]
    assert len(bits) == len(allotted)


@pytest.mark.parametrize("word", WORDS)
def test_bits_are_unique_and_fit_a_signed_32_bit_word(word: str) -> None:
    """No two names share a bit, and the archive's int32 holds them all."""
    masks = [bit.mask for bit in WORDS[word][0].values()]
    assert len(set(masks)) == len(masks)
    assert all(mask > 0 and mask & (mask - 1) == 0 for mask in masks)
    assert sum(masks) < 2**31


@pytest.mark.parametrize("word", WORDS)
def test_names_can_stand_in_flag_meanings(word: str) -> None:
    """CF 3.5: blank-separated words of letters, digits and underscores; each has a meaning."""
    for name, bit in WORDS[word][0].items():
        assert name == bit.name
        assert name.replace("_", "").isalnum()
        assert bit.meaning
        assert "\n" not in bit.meaning


def test_grades_are_those_of_the_ocean_data_scheme() -> None:
    """IOC Manuals and Guides 54 vol. 3 (2013): 1 good, 2 not evaluated, 3, 4 bad, 9 missing."""
    assert GRADES == {"good": 1, "not_evaluated": 2, "questionable": 3, "bad": 4, "missing": 9}


def test_every_quantity_belongs_to_one_family() -> None:
    """The families part the quantities; derived ones are apart."""
    assert sorted((*SHORTWAVE, *LONGWAVE, *LINEAR, *AIR)) == sorted(QUANTITIES)
    assert set(RADIOMETRIC) == {*SHORTWAVE, *LONGWAVE, *LINEAR}
    assert not set(DERIVED) & set(QUANTITIES)
    assert all(name == row.name for name, row in (QUANTITIES | DERIVED).items())


# CF standard name table v93, canonical units beside each name.
CF_NAMES = {
    "ghi": ("surface_downwelling_shortwave_flux_in_air", "W m-2"),
    "dhi": ("surface_diffuse_downwelling_shortwave_flux_in_air", "W m-2"),
    "dni": ("surface_direct_along_beam_shortwave_flux_in_air", "W m-2"),
    "dni_horizontal": ("surface_direct_downwelling_shortwave_flux_in_air", "W m-2"),
    "swu": ("surface_upwelling_shortwave_flux_in_air", "W m-2"),
    "lwd": ("surface_downwelling_longwave_flux_in_air", "W m-2"),
    "lwu": ("surface_upwelling_longwave_flux_in_air", "W m-2"),
    "air_temperature": ("air_temperature", "K"),
    "relative_humidity": ("relative_humidity", "1"),
    "air_pressure": ("air_pressure", "Pa"),
    "wind_speed": ("wind_speed", "m s-1"),
    "wind_from_direction": ("wind_from_direction", "degree"),
}


@pytest.mark.parametrize("name", CF_NAMES)
def test_standard_names_and_units_are_cf(name: str) -> None:
    """Standard name and canonical unit as in the CF standard name table."""
    row = (QUANTITIES | DERIVED)[name]
    assert (row.standard_name, row.units) == CF_NAMES[name]


def test_resolutions_are_powers_of_two() -> None:
    """Rounding to a power of two is exact in floating point."""
    for row in (QUANTITIES | DERIVED).values():
        assert float(row.resolution).hex().startswith("0x1.0000000000000p")


def test_mask_of_joins_bits() -> None:
    """Masks of several names are combined; none gives 0; an unknown name is an error."""
    assert mask_of(TESTS, "missing", "stuck_value") == 1 | 4096
    assert mask_of(TESTS) == 0
    with pytest.raises(KeyError, match="mising"):
        mask_of(TESTS, "mising")
