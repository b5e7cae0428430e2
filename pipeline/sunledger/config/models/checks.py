"""Settings of the checks on a station's record; every default is common practice, no source.

The age at which a certificate is too old stands in the settings of `calibrate`, since minutes are
marked by it.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from sunledger.config.models.base import Model

Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]


class CheckSettings(Model):
    """When the ledger warns. The defaults are common field practice without a published source."""

    cleaning_plan: Positive = 31
    """Longest time without a recorded cleaning of a radiometer. [d]"""
    level_plan: Positive = 92
    """Longest time without a recorded level check of a horizontal radiometer. [d]"""
    largest_drift: Positive = 3600
    """Clock drift per day that no clock has: two checks implying more contradict. [s d-1]"""
    clock_reading_error: Annotated[float, Field(ge=0, allow_inf_nan=False)] = 5
    """Error of one comparison by eye, allowed for before two checks contradict. [s]"""
    unclassed_non_stability: Positive = 3.0
    """Change of sensitivity a year taken as natural where the instrument has no class. [percent]"""
