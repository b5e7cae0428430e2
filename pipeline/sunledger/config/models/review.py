"""`review.yaml`: a reviewer's decisions on intervals of the archive."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, model_validator

from sunledger.config.models.base import EntryError, EntryId, Model, Month, Name, Text, UtcTime


class Decision(Model):
    """One interval accepted or rejected, with its reason."""

    id: EntryId
    time: UtcTime = Field(alias="from")
    until: UtcTime
    quantities: tuple[Name, ...]
    decision: Literal["accept", "reject"]
    reason: Text
    role: Text
    decided: UtcTime

    @model_validator(mode="after")
    def _ends_after_it_begins(self) -> Self:
        if self.until <= self.time:
            raise EntryError("must be later than from", "until")
        return self


class Review(Model):
    """`review.yaml`."""

    decisions: tuple[Decision, ...] = ()
    finished_months: tuple[Month, ...] = ()
    """Months whose review is finished, which a final product needs."""
    waived_certificates: tuple[Month, ...] = ()
    """Months that may become final without a certificate after them."""
