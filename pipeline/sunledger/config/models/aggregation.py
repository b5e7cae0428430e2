"""Settings of aggregation: which periods, by which clock, which minutes count, how many of them."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, field_validator, model_validator

from sunledger.config.models.base import Model
from sunledger.vocabulary import GRADES

GradeName = Literal["good", "not_evaluated", "questionable", "bad", "missing"]
TimeBaseName = Literal["utc", "local_standard", "true_solar"]
PeriodName = Literal["5min", "10min", "15min", "30min", "hourly", "daily", "monthly", "yearly"]
MonthlyMethod = Literal["diurnal_composite", "plain", "whole_days", "half_days"]
Share = Annotated[float, Field(ge=0, le=1)]
Positive = Annotated[float, Field(gt=0)]


class AggregateSettings(Model):
    """Which periods are made, which minutes count, and how many of them a period needs."""

    periods: dict[TimeBaseName, tuple[PeriodName, ...]] = Field(
        default={"utc": ("hourly", "daily", "monthly")}
    )
    """Clock → periods of which the archive holds year files. Local standard time is that of the
    station's `local_standard_time`."""
    counting_grades: tuple[GradeName, ...] = ("good", "not_evaluated", "questionable")
    least_share_hourly: Share = 0.5
    """Also of the periods below an hour."""
    least_share_daily: Share = 0.9
    night: Literal["asked", "not_asked"] = "asked"
    """Shortwave: whether the least share is asked of all minutes, or only of those with the sun
    above the night zenith. `not_asked`: the mean of the minutes by day stands for all of them;
    those by night are taken as read, and one without a reading enters as 0."""
    sunrise_tolerance: Annotated[float, Field(ge=0, le=10)] = 0.0
    """With `night: not_asked`: minutes with the sun lower than this above the horizon are treated
    like the night. The World Radiation Data Centre tolerates 5 degree. [degree]"""
    monthly_method: MonthlyMethod = "diurnal_composite"
    """`diurnal_composite`: means of 96 times of day (Roesch et al. 2011); `plain`: mean of all
    counting minutes; `whole_days`: mean of the days of which every hour counts, but for shortwave
    those with low sun (World Radiation Data Centre); `half_days`: mean of the days with half of
    their daytime minutes (Natsis et al.)."""
    least_share_bin: Share = 0.2
    """Composite: least share of valid minutes in a 15-minute bin."""
    composite_share_of: Literal["daily_bin", "monthly_bin"] = "daily_bin"
    """Composite: whether that share is asked of the bin of each day, as the method is worded, or
    of the bin of all days of the month together."""
    composite_least_days: Annotated[int, Field(ge=1, le=31)] = 10
    """Composite: least number of days behind each time of day. The method as published asks for
    1; that a third of the month should be there is common practice, no source."""
    most_days_missing: Annotated[int, Field(ge=0, le=31)] = 9
    """`whole_days`: most days of a month that may be missing."""
    low_sun: Annotated[float, Field(ge=0, le=10)] = 5.0
    """`whole_days`: shortwave hours with the sun no higher than this may be missing. [degree]"""
    least_days: Annotated[int, Field(ge=1, le=31)] = 20
    """`half_days`: least number of days."""
    least_months: Annotated[int, Field(ge=1, le=12)] = 12
    """Least number of months with a value behind the mean of a year."""
    sunshine_threshold: Positive = 120.0
    """Direct irradiance above which the sun shines (WMO-No. 8). [W m-2]"""
    night_zenith: Annotated[float, Field(ge=90, le=108)] = 93.0
    """Shortwave: the sun lower than this is night; the composite sets it to 0. [degree]"""
    dni_from_difference: bool = False
    """Also form the direct from global less diffuse, under its own name."""

    def least_share(self, product: str) -> float:
        """
        Share of a period that the completeness rule asks for.

        Parameters
        ----------
        product : str
            One of `PeriodName`.

        Returns
        -------
        share : float
            [1]
        """
        longer = product in ("daily", "monthly", "yearly")
        return self.least_share_daily if longer else self.least_share_hourly

    @field_validator("counting_grades")
    @classmethod
    def _never_missing(cls, value: tuple[str, ...]) -> tuple[str, ...]:
        if "missing" in value:
            allowed = ", ".join(g for g in GRADES if g != "missing")
            raise ValueError(f"missing minutes cannot count; allowed: {allowed}")
        return value

    @field_validator("periods")
    @classmethod
    def _each_once(cls, value: dict[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
        for base, names in value.items():
            twice = sorted({n for n in names if names.count(n) > 1})
            if twice:
                raise ValueError(f"{base} names {', '.join(twice)} more than once")
        return value

    @model_validator(mode="after")
    def _tolerance_needs_the_night_apart(self) -> Self:
        if self.sunrise_tolerance > 0 and self.night == "asked":
            raise ValueError("sunrise_tolerance has a meaning only with night: not_asked")
        return self
