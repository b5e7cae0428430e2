"""`review.yaml`: a reviewer's decisions on intervals of the archive."""

from __future__ import annotations

from typing import Annotated, Literal, Self

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


class AcceptedFinding(Model):
    """A finding that a person accepted: from its onset on, what it bears on is in doubt."""

    id: EntryId
    finding: EntryId
    """Identifier of the finding."""
    condition: Literal["level_doubtful", "clock_doubtful", "soiling_recorded"]
    targets: tuple[Name, ...]
    """Positions out of level or soiled, or loggers whose clock is in doubt."""
    time: UtcTime = Field(alias="from")
    until: UtcTime | None = None
    """Without it, until the next level check of the position, clock check of the logger, or
    cleaning of the position."""
    bound: Annotated[float, Field(gt=0, le=100)] | None = None
    """Soiling only: largest loss; the setting of the uncertainty without it. [percent]"""
    reason: Text
    role: Text
    decided: UtcTime

    @model_validator(mode="after")
    def _ends_after_it_begins(self) -> Self:
        if self.until is not None and self.until <= self.time:
            raise EntryError("must be later than from", "until")
        if self.bound is not None and self.condition != "soiling_recorded":
            raise EntryError(f"goes with soiling_recorded only (got {self.condition})", "bound")
        return self


class Review(Model):
    """`review.yaml`."""

    decisions: tuple[Decision, ...] = ()
    accepted_findings: tuple[AcceptedFinding, ...] = ()
    """Findings that a person took as true."""
    finished_months: tuple[Month, ...] = ()
    """Months whose review is finished, which a final product needs."""
    waived_certificates: tuple[Month, ...] = ()
    """Months that may become final without a certificate after them."""
