"""`configs/processing.yaml`: the settings of every stage, each with its documented default."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Literal, Self, get_args

from pydantic import Field, field_validator, model_validator

from sunledger.config.models.aggregation import AggregateSettings, GradeName, Positive
from sunledger.config.models.base import Model, Text
from sunledger.config.models.budget import UncertaintySettings
from sunledger.config.models.checks import CheckSettings
from sunledger.config.models.flagging import (
    AirSettings,
    BlameSettings,
    ClosureSettings,
    FrostSettings,
    LowSunSettings,
    NightSettings,
    PointingSettings,
    RateSettings,
    SpikeSettings,
    TrackerSettings,
    TwinSettings,
)
from sunledger.config.models.scales import ScaleFactor, ScaleFamily
from sunledger.vocabulary import CONDITIONS, RADIOMETRIC, TESTS

CorrectionName = Literal[
    "logger_zero",
    "logger_gain",
    "thermal_offset",
    "temperature_response",
    "non_linearity",
    "directional_response",
    "sky_obstruction",
]


class CalibrateSettings(Model):
    """How coefficients are chosen, and what makes an instrument's record doubtful."""

    policy: Literal["latest_before", "interpolated", "fixed"] = "interpolated"
    """`interpolated`: linear in time between the certificates around an instant; `latest_before`:
    the last before it; `fixed`: for all time the one that `fixed_certificates` names."""
    fixed_certificates: dict[Text, Text] = Field(default={})
    """Serial number → certificate, for policy `fixed`."""
    expressed_in: dict[ScaleFamily, Text] = Field(default={})
    """Reference scale on which all certificates of a family are expressed; without it they must
    all name the same one."""
    scale_factors: tuple[ScaleFactor, ...] = ()
    """From scale to scale, by date of the certificate."""
    largest_certificate_age: Positive = 730
    """Days after which a certificate counts as expired, by the condition of its minutes and by the
    ledger's warning. Common practice, no source. [d]"""
    temperature_response: bool = True
    """Whether the certificate's temperature response is applied."""
    corrections: tuple[CorrectionName, ...] = get_args(CorrectionName)
    """Which corrections are applied, where certificate or record allow them; the order is fixed."""
    keep_corrections: tuple[CorrectionName, ...] = ()
    """Which corrections the minute product keeps as `<quantity>_<name>_correction`. [W m-2]"""
    level_tolerance: Positive = 0.2
    """As-found tilt above which the time before becomes doubtful: twice the 0.1 degree to which
    a centred bubble is level (WCRP-121, p. 32). [degree]"""
    thermal_sensor_tolerance: Positive = 0.3
    """As-found error of a body or dome sensor above which the time before becomes doubtful;
    0.3 K is 1.6 W m-2 at 288 K. [K]"""


class TimeSettings(Model):
    """How logger time becomes UTC."""

    policy: Literal["interpolate", "hold"] = "interpolate"
    """Between two clock checks: drift interpolated, or the earlier error held."""
    drift_tolerance: Positive = 120
    """Drift between two checks beyond which the time between them is doubtful. [s]"""
    clocks_apart: Positive = 10
    """Difference of clock residuals above which quantities are not compared. [s]"""
    visit_margin: Annotated[float, Field(ge=0)] = 120
    """Time added on both sides of a visit, cleaning or power cut. [s]"""
    solar_constant: Positive = 1361.0
    """IAU 2015 Resolution B3 nominal value. [W m-2]"""


def _known_quantities(names: Iterable[str]) -> None:
    wrong = [q for q in names if q not in RADIOMETRIC]
    if wrong:
        known = ", ".join(RADIOMETRIC)
        raise ValueError(f"unknown quantity {', '.join(wrong)}; allowed: {known}")


class LimitSettings(Model):
    """One pair of limits: ``minimum`` and ``factor * S * cos(z)**exponent + offset``."""

    minimum: float
    factor: Annotated[float, Field(ge=0)]
    exponent: Annotated[float, Field(ge=0)]
    offset: float

    @model_validator(mode="after")
    def _minimum_below_maximum(self) -> Self:
        if self.minimum >= self.offset:
            raise ValueError(
                "minimum must be below offset, which is the maximum at night"
                f" (got {self.minimum}, {self.offset})"
            )
        return self


class QuantityLimits(Model):
    """Limits of one quantity that replace the published ones, by level."""

    physical: LimitSettings | None = None
    rare: LimitSettings | None = None
    site: LimitSettings | None = None


class StuckSettings(Model):
    """When an unchanging signal is unnatural."""

    least_run: dict[str, Annotated[int, Field(ge=2, le=360)]] = Field(
        default=dict.fromkeys(RADIOMETRIC, 20)
    )
    """Least number of consecutive minutes with the very same signal; quantities that are not named
    keep their default. Signals logged to a microvolt or finer never stand still that long by day.
    Common practice, no source. [min]"""
    least_irradiance: float = 5.0
    """Shortwave below this may naturally stand still; other light in proportion. [W m-2]"""

    @field_validator("least_run")
    @classmethod
    def _every_quantity(cls, value: dict[str, int]) -> dict[str, int]:
        _known_quantities(value)
        return dict.fromkeys(RADIOMETRIC, 20) | value


class PolaritySettings(Model):
    """
    When a negative value of light means exchanged wires. Common practice, no source.

    Irradiances are those of shortwave; ultraviolet and photosynthetic light count in proportion.
    """

    highest_irradiance: Annotated[float, Field(lt=0)] = -30.0
    """[W m-2]"""
    largest_zenith: Annotated[float, Field(gt=0, le=90)] = 90.0
    """[degree]"""
    times_zero_offset: Annotated[float, Field(ge=1)] = 1.5
    """A median of so many times what the class allows as zero offset is one as well."""
    window: Annotated[int, Field(ge=1, le=10)] = 7
    """Of that median, to either side. [min]"""
    largest_adjoining_zenith: Annotated[float, Field(gt=0, le=96)] = 93.0
    """How far into the twilight values near such minutes belong to them. [degree]"""
    highest_adjoining: Annotated[float, Field(lt=0)] = -2.0
    """Below it, values near such minutes belong to them: the extremely rare minimum of Long and
    Dutton. [W m-2]"""
    longest_adjoining: Annotated[int, Field(ge=1, le=60)] = 60
    """How far on either side. [min]"""


class GradeRule(Model):
    """One row of the grade table: any of these bits gives the grade."""

    grade: GradeName
    flags: tuple[str, ...] = ()
    conditions: tuple[str, ...] = ()
    persists: Annotated[int, Field(ge=1, le=60)] = 1
    """Least number of consecutive minutes with one of the bits."""
    light: Literal["any", "steady"] = "any"
    """`steady`: the row holds only while the light keeps still."""

    @model_validator(mode="after")
    def _bits_exist(self) -> Self:
        for names, known in ((self.flags, TESTS), (self.conditions, CONDITIONS)):
            wrong = [n for n in names if n not in known]
            if wrong:
                raise ValueError(f"unknown bits {', '.join(wrong)}; allowed: {', '.join(known)}")
        return self


DEFAULT_GRADES = (
    GradeRule(grade="bad", conditions=("review_rejected",)),
    GradeRule(grade="good", conditions=("review_accepted",)),
    GradeRule(
        grade="bad",
        flags=(
            "over_range",
            "below_physical_minimum",
            "above_physical_maximum",
            "polarity_reversed",
            "stuck_value",
        ),
    ),
    GradeRule(
        grade="questionable",
        flags=(
            "below_rare_minimum",
            "above_rare_maximum",
            "outside_site_limits",
            "diffuse_above_global",
            "twins_disagree",
            "longwave_against_air_temperature",
            "longwave_down_against_up",
            "spread_inconsistent",
            "tracker_off_sun",
            "frost_or_ventilation",
            "outside_credible_range",
            "changes_too_fast",
        ),
        conditions=(
            "calibration_expired",
            "outside_certificate_range",
            "clock_doubtful",
            "level_doubtful",
            "shade_doubtful",
            "thermal_sensor_doubtful",
            "maintenance",
            "tracker_homing",
            "ventilation_off",
            "soiling_recorded",
            "label_conflict",
            "few_samples",
            "shade_band_uncorrected",
            "supply_low",
        ),
    ),
    GradeRule(grade="questionable", flags=("components_disagree",), persists=3),
    GradeRule(grade="questionable", flags=("components_disagree",), light="steady"),
)


class FlagSettings(Model):
    """Limits of the tests, and the table that turns flags into a grade (first match wins)."""

    limits: dict[str, QuantityLimits] = Field(default={})
    stuck: StuckSettings = StuckSettings()
    polarity: PolaritySettings = PolaritySettings()
    tracker: TrackerSettings = TrackerSettings()
    pointing: PointingSettings = PointingSettings()
    closure: ClosureSettings = ClosureSettings()
    blame: BlameSettings = BlameSettings()
    spike: SpikeSettings = SpikeSettings()
    night: NightSettings = NightSettings()
    twins: TwinSettings = TwinSettings()
    frost: FrostSettings = FrostSettings()
    air: AirSettings = AirSettings()
    low_sun: LowSunSettings = LowSunSettings()
    rate: RateSettings = RateSettings()
    grades: tuple[GradeRule, ...] = DEFAULT_GRADES

    @field_validator("limits")
    @classmethod
    def _quantities_exist(cls, value: dict[str, QuantityLimits]) -> dict[str, QuantityLimits]:
        _known_quantities(value)
        return value


class Processing(Model):
    """`processing.yaml`."""

    checks: CheckSettings = CheckSettings()
    calibrate: CalibrateSettings = CalibrateSettings()
    time_correct: TimeSettings = TimeSettings()
    uncertainty: UncertaintySettings = UncertaintySettings()
    qc_flag: FlagSettings = FlagSettings()
    aggregate: AggregateSettings = AggregateSettings()
