"""Radiometric reference scales: dated factors by which certificates are re-expressed."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from sunledger.config.models.base import Day, Model, Text

ScaleFamily = Literal["shortwave", "longwave"]


class ScaleFactor(Model):
    """What an irradiance on one scale is multiplied with to stand on another."""

    scale: Text
    """As certificates name it."""
    to: Text
    factor: Annotated[float, Field(gt=0.9, lt=1.1)]
    valid_from: Day | None = Field(default=None, alias="from")
    """First date of the certificates for which it holds."""
    until: Day | None = None
    """Date before which those certificates are dated."""
    source: Text
    """Where the factor is stated."""
