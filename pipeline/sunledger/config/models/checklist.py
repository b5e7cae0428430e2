"""`checklist.yaml`: what a visit to a station goes through, in the order of the way on site."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from sunledger.config.models.base import EntryError, Model, Name, Text

AT_LOGGERS = ("clock_check",)
WITHOUT_PLACE = ("visit",)


class Item(Model):
    """One thing to do."""

    do: Text
    entry: (
        Literal[
            "visit",
            "serial_number",
            "level_check",
            "level_again",
            "clock_check",
            "cleaning",
            "desiccant",
            "cable",
            "ventilator",
            "tracker_homing",
            "tracker_alignment",
            "shade_alignment",
            "thermal_sensor_check",
            "exchange",
        ]
        | None
    ) = None
    """Kind of row in the visit form in which it is told; ``level_again`` stands for the second
    look of the level check, after everything was tightened."""
    positions: tuple[Name, ...] = ()
    loggers: tuple[Name, ...] = ()
    source: Text | None = None
    """Where it is asked for; without it, it is marked as common practice."""

    @model_validator(mode="after")
    def _says_where(self) -> Self:
        wanted = "loggers" if self.entry in AT_LOGGERS else "positions"
        needed = self.entry is not None and self.entry not in WITHOUT_PLACE
        if needed and not getattr(self, wanted):
            raise EntryError(f"is missing; {self.entry} needs to know where", wanted)
        return self


class Place(Model):
    """A place on site with what is done there."""

    place: Text
    caution: Text | None = None
    """What can hurt somebody here; printed above the items."""
    items: Annotated[tuple[Item, ...], Field(min_length=1)]


class Checklist(Model):
    """`checklist.yaml`."""

    cautions: tuple[Text, ...] = ()
    """Cautions of this site, printed behind those that every sheet begins with."""
    places: Annotated[tuple[Place, ...], Field(min_length=1)]
