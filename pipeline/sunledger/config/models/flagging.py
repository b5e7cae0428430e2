"""Settings of the tests that look at neighbouring minutes and at the clear sky.

Where no source is named, the number was chosen on a published month (Baseline Surface Radiation
Network station 21, June 2016) with three-day blocks left out, and is common practice in kind.
"""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from sunledger.config.models.base import Model

Share = Annotated[float, Field(ge=0, le=1)]
Positive = Annotated[float, Field(gt=0)]
Zenith = Annotated[float, Field(gt=0, le=90)]
HalfWindow = Annotated[int, Field(ge=1, le=60)]


class TrackerSettings(Model):
    """When a tracker is held to have lost the sun although it does not say so."""

    dark_share: Share = 0.05
    """Direct below this share of the clear-sky direct counts as lost. [1]"""
    bright_share: Positive = 0.8
    """Diffuse above this share of the clear-sky global is more than a cloud lets through. [1]"""
    least_step: Positive = 0.15
    """So is a change of the diffuse from one minute to the next of this share. [1]"""
    window: HalfWindow = 30
    """Minutes looked at on either side. [min]"""
    least_dark: Share = 0.9
    """Share of the window in which the direct has to be lost. [1]"""
    least_bright: Share = 0.2
    """Share of it that has to be bright or to change so fast. [1]"""
    least_rare: Annotated[int, Field(ge=1, le=121)] = 2
    """Minutes of it that prove the same by a diffuse above its extremely rare maximum. [min]"""
    fading: HalfWindow = 20
    """Longest time the sun takes to leave aperture and shade, which joins the window. [min]"""
    largest_zenith: Zenith = 80.0
    """Proof is taken only from minutes with a higher sun: below, thin overcast looks alike.
    [degree]"""


class PointingSettings(Model):
    """When a pyrheliometer or shade is held to be off while the other is right."""

    least_horizontal: Positive = 50.0
    """Global less diffuse above which the direct has to be seen. [W m-2]"""
    least_share_of_global: Share = 0.12
    """Global less diffuse has to be this share of the global too: less may be the error of one of
    the two. [1]"""
    lost_share: Share = 0.1
    """Direct below this share of what global and diffuse ask for counts as lost. [1]"""
    window: HalfWindow = 10
    """Minutes looked at on either side. [min]"""
    least_share: Share = 0.5
    """Share of the window that has to show the same. [1]"""
    least_loss: Share = 0.08
    """Share of the beam that must be missing from the direct or added to the diffuse. [1]"""
    largest_zenith: Zenith = 80.0
    """[degree]"""


class ClosureSettings(Model):
    """Closure over an hour, which sees less than that of a single minute."""

    largest_difference: Annotated[float, Field(gt=0, lt=1)] = 0.03
    """Median of the difference relative to the component sum. [1]"""
    least_difference: Positive = 8.0
    """Median of the difference itself. [W m-2]"""
    window: HalfWindow = 30
    """Minutes looked at on either side. [min]"""
    least_minutes: Annotated[int, Field(ge=3, le=121)] = 40
    """Least number of minutes with light in the window."""
    least_sunlit: Annotated[int, Field(ge=3, le=121)] = 20
    """Least number of minutes in which the beam arrives, where these are judged by themselves."""
    largest_zenith: Zenith = 80.0
    """[degree]"""
    steady_range: Positive = 0.1
    """Light is steady where two components keep within this share of the clear-sky global for
    five minutes on either side. [1]"""


class BlameSettings(Model):
    """Which component is wrong: ratios to the clear-sky expectation that are plausible."""

    lowest_global: Positive = 0.8
    highest_global: Positive = 1.2
    """Global over clear-sky global on clear minutes. [1]"""
    lowest_direct: Positive = 0.7
    highest_direct: Positive = 1.08
    """Direct over clear-sky direct on clear minutes. [1]"""
    lowest_diffuse: Positive = 0.05
    highest_diffuse: Positive = 0.3
    """Diffuse over clear-sky global on clear minutes. [1]"""
    margin: Share = 0.08
    """By how much the better explanation has to be nearer to the expectation. [1]"""
    margin_by_clouds: Share = 0.3
    """The same away from periods of clear sky, where clouds may brighten the sky. [1]"""

    @model_validator(mode="after")
    def _lower_below_upper(self) -> Self:
        for name in ("global", "direct", "diffuse"):
            low, high = getattr(self, f"lowest_{name}"), getattr(self, f"highest_{name}")
            if low >= high:
                raise ValueError(f"lowest_{name} must be below highest_{name} (got {low}, {high})")
        return self


class SpikeSettings(Model):
    """A change and return too fast to be natural."""

    least_height: Positive = 20.0
    """Shortwave, on the horizontal. [W m-2]"""
    least_height_longwave: Positive = 15.0
    """[W m-2]"""
    times_spread: Positive = 6.0
    """Height over the usual scatter of the neighbourhood. [1]"""
    longest: Annotated[int, Field(ge=1, le=4)] = 3
    """[min]"""


class NightSettings(Model):
    """Signal without sun."""

    least_zenith: Annotated[float, Field(ge=93, le=180)] = 97.0
    """Night begins here. [degree]"""
    window: HalfWindow = 15
    """Median over minutes on either side. [min]"""


class TwinSettings(Model):
    """Two instruments measuring the same. Common practice, no source."""

    largest_difference: Share = 0.05
    """Relative to the larger. [1]"""
    least_difference: Positive = 15.0
    """[W m-2]"""
    least_run: Annotated[int, Field(ge=1, le=60)] = 3
    """[min]"""


class AirSettings(Model):
    """What is credible of the air. Common practice, no source."""

    lowest_temperature: Positive = 183.15
    highest_temperature: Positive = 333.15
    """A little beyond the lowest and highest ever measured at the ground. [K]"""
    lowest_humidity: float = -0.02
    highest_humidity: Positive = 1.05
    """A sensor in fog may read a little above saturation. [1]"""
    pressure_below: Share = 0.15
    pressure_above: Share = 0.08
    """Share of the standard atmosphere's pressure at the station's altitude. [1]"""

    @model_validator(mode="after")
    def _lower_below_upper(self) -> Self:
        for name in ("temperature", "humidity"):
            low, high = getattr(self, f"lowest_{name}"), getattr(self, f"highest_{name}")
            if low >= high:
                raise ValueError(f"lowest_{name} must be below highest_{name} (got {low}, {high})")
        return self


class RateSettings(Model):
    """
    Changes from one minute to the next that are not natural.

    Irradiance, temperature, humidity and pressure from memory of WMO's guidelines on quality
    control for data from automatic weather stations (2004); longwave common practice, no source.
    """

    shortwave: Positive = 1000.0
    """[W m-2]"""
    longwave: Positive = 100.0
    """[W m-2]"""
    air_temperature: Positive = 3.0
    """[K]"""
    relative_humidity: Positive = 0.15
    """[1]"""
    air_pressure: Positive = 200.0
    """[Pa]"""
    least_step: Positive = 5.0
    """Change of the mean, with two deviations of zero, above which they contradict it. [W m-2]"""


class LowSunSettings(Model):
    """Where one zenith angle does not stand for the interval. Common practice, no source."""

    largest_change: Share = 0.1
    """Change of the cosine of the zenith angle within the interval, as a share of it. [1]"""


class FrostSettings(Model):
    """Frost or dew on the dome of the global pyranometer in the morning."""

    least_humidity: Share = 0.85
    """Relative humidity that must have been reached in the hours before. [1]"""
    hours_before: Annotated[int, Field(ge=1, le=12)] = 6
    """[h]"""
    least_loss: Share = 0.03
    """Share of the component sum missing from the global. [1]"""
    window: HalfWindow = 10
    """Minutes looked at on either side. [min]"""
    least_share: Share = 0.5
    """Share of the window with the loss. [1]"""
    smallest_zenith: Zenith = 45.0
    """The sun has dried the dome when it is higher. [degree]"""
