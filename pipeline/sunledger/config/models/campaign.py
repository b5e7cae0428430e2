"""A campaign file: an instrument beside a reference for some days, and how they are compared."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from sunledger.config.models.base import EntryError, Model, Name, StationId, Text, UtcTime

Percent = Annotated[float, Field(gt=0, le=20)]


class ComponentReference(Model):
    """Global of the reference as diffuse plus direct on the horizontal."""

    direct: Name
    """Position of the reference pyrheliometer."""
    diffuse: Name
    """Position of the shaded reference pyranometer."""


class CampaignSelection(Model):
    """
    Which minutes count.

    The defaults are common practice in the manner of the standards' outdoor methods as remembered;
    where a number is read in a source, it stands beside it.
    """

    least_irradiance: Annotated[float, Field(ge=0, le=1200)] = 400.0
    """Of the reference. A pyrheliometer is compared above 400 (WCRP-121, p. 10). [W m-2]"""
    largest_zenith: Annotated[float, Field(gt=0, le=85)] = 60.0
    """Of the sun. [degree]"""
    series: Annotated[int, Field(ge=600, le=7200)] = 1800
    """Length of a series, from full hours on. Standards ask for series of ten to twenty minutes
    with some twenty readings of single instants (memory); means of a minute need longer. [s]"""
    least_readings: Annotated[int, Field(ge=3)] = 20
    """Of a series."""
    largest_unsteadiness: Percent = 1.0
    """Departure of the reference from a straight line within a series: clouds. [percent]"""
    largest_deviation: Percent = 2.0
    """Of a reading's ratio from its series's; 2 % after ISO 9847 as remembered. [percent]"""
    largest_series_deviation: Percent = 2.0
    """Of a series's responsivity from the median of all. [percent]"""
    least_series: Annotated[int, Field(ge=2)] = 12
    """That count in the end."""
    least_days: Annotated[int, Field(ge=2)] = 3
    """With at least one series; the scatter of days is part of the uncertainty."""

    @model_validator(mode="after")
    def _series_divides_the_day(self) -> Self:
        if 86400 % self.series:
            raise EntryError("must divide a day", "series")
        return self


class Campaign(Model):
    """A campaign file."""

    workflow: Text
    """Run plan that names raw folder, settings and stations; relative to this file."""
    station: StationId
    position: Name
    """Where the instrument stands that is to get a certificate."""
    method: Literal["comparison", "component_sum"]
    """`comparison`: with a reference that measures the same quantity; `component_sum`: a global
    pyranometer with direct and diffuse of references."""
    reference: Name | None = None
    """Position of the reference, for `comparison`."""
    components: ComponentReference | None = None
    """Positions of the references, for `component_sum`."""
    valid_from: UtcTime = Field(alias="from")
    until: UtcTime
    laboratory: Text
    """Who calibrates, as the certificate is to name it."""
    selection: CampaignSelection = CampaignSelection()

    @model_validator(mode="after")
    def _ends_after_it_begins(self) -> Self:
        if self.until <= self.valid_from:
            raise EntryError("must be later than from", "until")
        return self

    @model_validator(mode="after")
    def _references_of_its_method(self) -> Self:
        wanted = {"comparison": "reference", "component_sum": "components"}[self.method]
        for field in ("reference", "components"):
            if (getattr(self, field) is not None) != (field == wanted):
                raise EntryError(f"method {self.method} takes {wanted} and no other", field)
        return self

    def reference_positions(self) -> tuple[str, ...]:
        """
        Positions of the references.

        Returns
        -------
        positions : tuple of str
            One, or the direct and the diffuse.
        """
        if self.components is not None:
            return (self.components.direct, self.components.diffuse)
        return (str(self.reference),)
