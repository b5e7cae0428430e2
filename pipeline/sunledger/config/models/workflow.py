"""Run plans in `workflows/`, and `network.yaml`, which says whose archive it is."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from sunledger.config.models.base import Contact, EntryError, Model, Month, StationId, Text, UtcTime

STAGES = ("ingest", "calibrate", "time_correct", "qc_flag", "aggregate")


class Network(Model):
    """`network.yaml`: the archive's title, publisher and identifiers."""

    id: StationId
    name: Text
    naming_authority: Text
    """Reverse domain name under which file identifiers are unique."""
    summary: Text
    project: Text
    program: Text
    acknowledgement: Text
    references: Text
    metadata_link: Text
    publisher: Contact
    creator: Contact
    keywords: tuple[Text, ...]


class MonthRange(Model):
    """First and last month of a run, both included."""

    first: Month
    last: Month

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.last < self.first:
            raise ValueError(f"last must not be before first (got {self.first}..{self.last})")
        return self


class Workflow(Model):
    """A run plan: what to make of which raw data, and where it goes. Paths: from this file."""

    network: Text
    processing: Text
    stations: Annotated[tuple[Text, ...], Field(min_length=1)]
    """Station folders."""
    raw: Text
    archive: Text
    stages: tuple[Literal["ingest", "calibrate", "time_correct", "qc_flag", "aggregate"], ...] = (
        STAGES  # type: ignore[assignment]
    )
    months: MonthRange | None = None
    """Default: every month with raw data."""
    as_of: UtcTime | None = None
    """The run's "now". Default: the newest raw reading."""
    workers: Annotated[int, Field(ge=1, le=1024)] | None = None
    """Default: one on two cores, which it keeps busy; on more, as many as there are cores."""

    @model_validator(mode="after")
    def _stages_in_order(self) -> Self:
        if self.stages != STAGES[: len(self.stages)] or not self.stages:
            why = f"stages run in the order {', '.join(STAGES)}, from the first"
            raise EntryError(why, "stages")
        return self
