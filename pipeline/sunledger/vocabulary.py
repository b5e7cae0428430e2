"""The archive's words: one row per archived quantity; every flag and condition bit, allotted once.

The bits are an interface that researchers' programs rely on. A bit is never given a second
meaning; a retired bit stays retired.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Family = Literal["shortwave", "longwave", "linear", "air"]


@dataclass(frozen=True)
class Quantity:
    """
    One archived quantity.

    Parameters
    ----------
    name : str
        Variable name in the archive.
    long_name : str
        What it is, in the trade's words.
    units : str
        UDUNITS-style unit of the archived value.
    family : str
        ``shortwave`` and ``longwave`` are irradiances measured by a radiometer; ``linear`` is what
        another sensor of light gives as a voltage over one sensitivity; ``air`` is everything
        that is scaled linearly.
    standard_name : str or None
        Name in the CF standard name table, where one exists.
    exposure_standard_name : str or None
        CF name of the integral over time, where one exists.
    resolution : float
        Step to which archived values are rounded, a power of two in ``units`` far below any
        sensor's resolution; it makes files smaller without losing anything measured.
    temperature_on_scale : bool
        Whether CF's ``units_metadata`` for a temperature applies.
    sensor : str
        What stands at a position that measures it, whatever the instrument of the day is.
    kinds : tuple of str
        Kinds of instruments that can measure it; the first is the usual one.
    """

    name: str
    long_name: str
    units: str
    family: Family
    standard_name: str | None = None
    exposure_standard_name: str | None = None
    resolution: float = 2.0**-7
    temperature_on_scale: bool = False
    sensor: str = ""
    kinds: tuple[str, ...] = ()


_SW_EXPOSURE = "integral_wrt_time_of_surface_downwelling_shortwave_flux_in_air"
_LW_EXPOSURE = "integral_wrt_time_of_surface_downwelling_longwave_flux_in_air"

_PYRANOMETERS = ("thermopile_pyranometer", "black_and_white_pyranometer")

_ROWS = (
    Quantity(
        "ghi",
        "global shortwave irradiance on a horizontal surface",
        "W m-2",
        "shortwave",
        "surface_downwelling_shortwave_flux_in_air",
        _SW_EXPOSURE,
        sensor="pyranometer",
        kinds=_PYRANOMETERS,
    ),
    Quantity(
        "dhi",
        "diffuse shortwave irradiance on a horizontal surface, sun shaded",
        "W m-2",
        "shortwave",
        "surface_diffuse_downwelling_shortwave_flux_in_air",
        sensor="shaded pyranometer",
        kinds=_PYRANOMETERS,
    ),
    Quantity(
        "dni",
        "direct shortwave irradiance on a surface facing the sun",
        "W m-2",
        "shortwave",
        "surface_direct_along_beam_shortwave_flux_in_air",
        sensor="pyrheliometer",
        kinds=("pyrheliometer",),
    ),
    Quantity(
        "swu",
        "upward shortwave irradiance on a horizontal surface",
        "W m-2",
        "shortwave",
        "surface_upwelling_shortwave_flux_in_air",
        sensor="pyranometer facing down",
        kinds=_PYRANOMETERS,
    ),
    Quantity(
        "lwd",
        "downward longwave irradiance on a horizontal surface",
        "W m-2",
        "longwave",
        "surface_downwelling_longwave_flux_in_air",
        _LW_EXPOSURE,
        sensor="pyrgeometer",
        kinds=("pyrgeometer",),
    ),
    Quantity(
        "lwu",
        "upward longwave irradiance on a horizontal surface",
        "W m-2",
        "longwave",
        "surface_upwelling_longwave_flux_in_air",
        sensor="pyrgeometer facing down",
        kinds=("pyrgeometer",),
    ),
    Quantity(
        "gti",
        "global shortwave irradiance in the plane of an array",
        "W m-2",
        "linear",
        sensor="pyranometer in the plane of an array",
        kinds=_PYRANOMETERS,
    ),
    Quantity(
        "uv",
        "ultraviolet irradiance on a horizontal surface, by the band of its sensor",
        "W m-2",
        "linear",
        resolution=2.0**-14,
        sensor="ultraviolet sensor",
        kinds=("ultraviolet_sensor",),
    ),
    Quantity(
        "ppfd",
        "photosynthetic photon flux on a horizontal surface",
        "umol m-2 s-1",
        "linear",
        "surface_downwelling_photosynthetic_photon_flux_in_air",
        sensor="photosynthetic sensor",
        kinds=("photosynthetic_sensor",),
    ),
    Quantity(
        "air_temperature",
        "air temperature",
        "K",
        "air",
        "air_temperature",
        temperature_on_scale=True,
    ),
    Quantity(
        "relative_humidity",
        "relative humidity of the air",
        "1",
        "air",
        "relative_humidity",
        resolution=2.0**-14,
    ),
    Quantity(
        "air_pressure", "air pressure at the station", "Pa", "air", "air_pressure", resolution=0.25
    ),
    Quantity("wind_speed", "wind speed", "m s-1", "air", "wind_speed"),
    Quantity(
        "wind_from_direction",
        "direction the wind comes from, clockwise from north",
        "degree",
        "air",
        "wind_from_direction",
    ),
)

_DERIVED_ROWS = (
    Quantity(
        "ghi_component_sum",
        "global shortwave irradiance as diffuse plus direct on the horizontal",
        "W m-2",
        "shortwave",
        "surface_downwelling_shortwave_flux_in_air",
        _SW_EXPOSURE,
    ),
    Quantity(
        "dni_horizontal",
        "direct shortwave irradiance on a horizontal surface",
        "W m-2",
        "shortwave",
        "surface_direct_downwelling_shortwave_flux_in_air",
    ),
    Quantity(
        "ghi_selected",
        "global shortwave irradiance from the better source",
        "W m-2",
        "shortwave",
        "surface_downwelling_shortwave_flux_in_air",
        _SW_EXPOSURE,
    ),
    Quantity(
        "dni_from_difference",
        "direct shortwave irradiance facing the sun, from global less diffuse",
        "W m-2",
        "shortwave",
        "surface_direct_along_beam_shortwave_flux_in_air",
    ),
    Quantity(
        "net_shortwave",
        "net downward shortwave irradiance, selected global less upward",
        "W m-2",
        "shortwave",
        "surface_net_downward_shortwave_flux",
        "integral_wrt_time_of_surface_net_downward_shortwave_flux",
    ),
    Quantity(
        "net_longwave",
        "net downward longwave irradiance",
        "W m-2",
        "longwave",
        "surface_net_downward_longwave_flux",
        "integral_wrt_time_of_surface_net_downward_longwave_flux",
    ),
    Quantity(
        "net_radiation",
        "net downward irradiance, shortwave and longwave",
        "W m-2",
        "longwave",
        "surface_net_downward_radiative_flux",
    ),
)

QUANTITIES: dict[str, Quantity] = {row.name: row for row in _ROWS}
DERIVED: dict[str, Quantity] = {row.name: row for row in _DERIVED_ROWS}
"""Formed minute by minute from measured quantities, in the aggregated products only."""
RADIOMETRIC: tuple[str, ...] = tuple(q.name for q in _ROWS if q.family != "air")
SHORTWAVE: tuple[str, ...] = tuple(q.name for q in _ROWS if q.family == "shortwave")
LONGWAVE: tuple[str, ...] = tuple(q.name for q in _ROWS if q.family == "longwave")
AIR_TESTED: tuple[str, ...] = ("air_temperature", "relative_humidity", "air_pressure")
"""Air quantities that have flags, conditions and a grade of their own."""
LINEAR: tuple[str, ...] = tuple(q.name for q in _ROWS if q.family == "linear")
AIR: tuple[str, ...] = tuple(q.name for q in _ROWS if q.family == "air")

LONGEST_BY_MIDDLE = 600
"""Up to this interval the sun at its true middle stands for it; above, the mean of the cosine of
the zenith angle, not below 0, over the interval. [s]"""

STATISTICS: tuple[str, ...] = ("mean", "min", "max", "std")


@dataclass(frozen=True)
class Bit:
    """
    One bit of a flag or condition word.

    Parameters
    ----------
    position : int
        Bit number, from 0; the mask is ``2**position``.
    name : str
        Word used in ``flag_meanings``.
    meaning : str
        What a set bit says, in one sentence.
    """

    position: int
    name: str
    meaning: str

    @property
    def mask(self) -> int:
        """
        Integer with only this bit set.

        Returns
        -------
        mask : int
            Power of two.
        """
        return 1 << self.position


def _bits(*rows: tuple[str, str]) -> dict[str, Bit]:
    return {name: Bit(i, name, meaning) for i, (name, meaning) in enumerate(rows)}


# Tests. A set bit in `<quantity>_flags` says that the test failed; in `<quantity>_tested`, that
# it could run. Order is allotment: append only.
TESTS: dict[str, Bit] = _bits(
    ("missing", "no reading for this interval"),
    ("over_range", "the logger reported a signal beyond its measuring range"),
    ("below_physical_minimum", "below the physically possible minimum"),
    ("above_physical_maximum", "above the physically possible maximum"),
    ("below_rare_minimum", "below the extremely rare minimum"),
    ("above_rare_maximum", "above the extremely rare maximum"),
    ("outside_site_limits", "outside the limits set for this site"),
    ("components_disagree", "global differs from diffuse plus direct on the horizontal"),
    ("diffuse_above_global", "diffuse exceeds global"),
    ("twins_disagree", "two instruments measuring the same quantity differ"),
    ("longwave_against_air_temperature", "longwave implausible for the air temperature"),
    ("longwave_down_against_up", "downward longwave implausible for the upward longwave"),
    ("stuck_value", "the value does not change for longer than is natural"),
    ("spike", "a change and return too fast to be natural"),
    ("spread_inconsistent", "minimum, maximum, deviation and mean contradict each other"),
    ("night_offset_large", "the night signal exceeds the zero offset of the instrument's class"),
    ("polarity_reversed", "strongly negative by day: the channel's polarity is reversed"),
    ("frost_or_ventilation", "dome frosted or dewed, or the ventilator off"),
    ("tracker_off_sun", "the tracker does not point at the sun"),
    ("shade_misaligned", "the shade leaves part of the dome in the beam"),
    ("pyrheliometer_off_sun", "the direct is lost while the shade still covers"),
    ("beam_obstructed", "part of the direct beam is obstructed"),
    ("soiled", "loss that ended with a recorded cleaning"),
    ("below_horizon_profile", "the sun stands behind the recorded horizon"),
    ("components_disagree_for_long", "global and component sum differ over an hour"),
    ("outside_credible_range", "air temperature, humidity or pressure beyond what is credible"),
    ("zenith_changes_fast", "so low a sun that one zenith angle does not stand for the interval"),
    ("changes_too_fast", "a change from one interval to the next faster than any natural one"),
)

# Corrections of the calibrate stage in the order in which they are applied. Names are an interface.
CORRECTIONS: dict[str, str] = {
    "logger_zero": "what the logger shows with a short circuit taken off",
    "logger_gain": "gain of logger, multiplexer and shunt",
    "thermal_offset": "offset from the exchange of heat between detector and dome taken off",
    "temperature_response": "sensitivity at the temperature of the instrument",
    "non_linearity": "sensitivity at the irradiance measured",
    "directional_response": "response to the beam at the direction of the sun",
    "sky_obstruction": "sky that the shade band hides",
}

# What the record says about the interval, whatever the values are. Append only.
CONDITIONS: dict[str, Bit] = _bits(
    ("no_deployment", "no instrument is recorded at the position"),
    ("no_calibration", "the instrument has no certificate that applies"),
    ("calibration_expired", "the certificate is older than the station allows"),
    ("outside_certificate_range", "used outside the range the certificate covers"),
    ("clock_unverified", "no clock check brackets the interval; the last known error is held"),
    ("clock_doubtful", "a later check found the clock wrong, or an accepted finding says so"),
    ("interval_doubled", "two readings fell into the interval; the one nearer its middle is kept"),
    ("interval_emptied", "a clock step or drift left the interval without a reading"),
    ("label_conflict", "the same label was delivered with other values; the first is kept"),
    ("line_rejected", "a raw line of this interval was rejected"),
    (
        "level_doubtful",
        "a later check found the level out of tolerance, or an accepted finding says so",
    ),
    ("shade_doubtful", "a check later found the shade out of place"),
    ("thermal_sensor_doubtful", "a check later found the body or dome sensor in error"),
    ("maintenance", "somebody worked at the instruments"),
    ("tracker_homing", "the tracker was homing or not yet back on the sun"),
    ("ventilation_off", "the record or the ventilator speed says the ventilation was off"),
    ("soiling_recorded", "the record says the instrument was soiled"),
    ("review_accepted", "a reviewer accepted the interval"),
    ("review_rejected", "a reviewer rejected the interval"),
    ("few_samples", "fewer samples than the interval should hold"),
    ("correction_not_applied", "a configured correction could not be applied"),
    ("clocks_apart", "compared quantities come from clocks more than the limit apart"),
    ("shade_band_uncorrected", "shaded by a band without a sky-obstruction correction"),
    ("supply_low", "the supply of the logger was below its least voltage"),
)

# IOC Manuals and Guides 54, volume 3 (2013), primary level flags.
GRADES: dict[str, int] = {
    "good": 1,
    "not_evaluated": 2,
    "questionable": 3,
    "bad": 4,
    "missing": 9,
}

# Why an aggregated value is withheld. Append only.
WITHHELD: dict[str, Bit] = _bits(
    ("no_valid_sample", "no minute of the period counts"),
    ("low_coverage", "fewer minutes count than the completeness rule asks for"),
    ("composite_incomplete", "a time of day has no valid bin in the whole month"),
    ("undefined", "a ratio whose denominator is not positive, as without any sun"),
    ("few_days", "fewer days stand behind the month than its rule asks for"),
    ("few_months", "fewer months have a value than the year's rule asks for"),
)


def mask_of(bits: dict[str, Bit], *names: str) -> int:
    """
    Combine named bits into one mask.

    Parameters
    ----------
    bits : dict of Bit
        ``TESTS``, ``CONDITIONS`` or ``WITHHELD``.
    *names : str
        Bit names.

    Returns
    -------
    mask : int
        OR of the masks.
    """
    combined = 0
    for name in names:
        combined |= bits[name].mask
    return combined
