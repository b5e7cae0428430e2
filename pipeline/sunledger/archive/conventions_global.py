"""Global attributes: all that ACDD-1.3 knows, and what ties a file to its configuration."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from sunledger.archive.changes import Entry
from sunledger.archive.conventions import Place
from sunledger.archive.specification import Attribute
from sunledger.config.models.base import Contact
from sunledger.config.models.station import Station
from sunledger.config.models.workflow import Network

CONVENTIONS = "CF-1.11, ACDD-1.3"
STANDARD_NAMES = "CF Standard Name Table v93"


@dataclass(frozen=True)
class ProductNotes:
    """
    What is said about one file.

    Parameters
    ----------
    product : str
        ``voltage``, ``minute``, ``series``, ``hourly``, ``daily`` or ``monthly``.
    period : str
        Such as ``2031-03`` or ``2031``.
    processing_level : str
        What was done to the values.
    source : str
        How the data were made, such as ``surface observation: thermopile pyranometers``.
    instrument : str
        Kinds of instruments.
    comment : str
        What a reader must know first, such as what a time stamp means.
    start : float
        First time stamp. [s since 1970-01-01 UTC]
    last : float
        Last time stamp; ACDD's end of coverage is that of the last data point. [s since 1970-01-01]
    duration : str
        ISO 8601, such as ``P1M``.
    resolution : str
        ISO 8601, such as ``PT1M``.
    """

    product: str
    period: str
    processing_level: str
    source: str
    instrument: str
    comment: str
    start: float
    last: float
    duration: str
    resolution: str


@dataclass(frozen=True)
class Traces:
    """
    What ties a file to what it was made of.

    Parameters
    ----------
    configuration_sha256 : str
        Digest of the resolved configuration.
    sources_sha256 : str
        Digest of the list of raw files.
    """

    configuration_sha256: str
    sources_sha256: str


def place_of(station: Station) -> Place:
    """
    Where a station is.

    Parameters
    ----------
    station : Station
        Its configuration.

    Returns
    -------
    place : Place
        Name and coordinates.
    """
    return Place(station.name, station.latitude, station.longitude, station.altitude)


def global_attributes(
    network: Network,
    station: Station,
    notes: ProductNotes,
    traces: Traces,
    entry: Entry,
) -> dict[str, Attribute]:
    """
    Global attributes of a file.

    Parameters
    ----------
    network : Network
        Whose archive it is.
    station : Station
        Where it was measured.
    notes : ProductNotes
        What the file holds.
    traces : Traces
        What it was made of.
    entry : Entry
        Version, dates, software and status from the change record.

    Returns
    -------
    attributes : dict
        In the order written. Those in `digest.CHANGE_RECORD_ATTRIBUTES` come from ``entry`` alone.
    """
    return {
        **_discovery(network, station, notes),
        **_people(network, station),
        **coverage(notes),
        **extent(place_of(station)),
        **issue_attributes(entry),
        "processing_configuration_sha256": traces.configuration_sha256,
        "source_files_sha256": traces.sources_sha256,
    }


def _discovery(network: Network, station: Station, notes: ProductNotes) -> dict[str, Attribute]:
    # Labels of the voltage product may step back, which no discrete sampling geometry allows.
    features: dict[str, Attribute] = (
        {} if notes.product == "voltage" else {"featureType": "timeSeries"}
    )
    return {
        "Conventions": CONVENTIONS,
        "title": f"{notes.product} data of {station.name}, {network.name}",
        "summary": f"{network.summary} Station: {station.description}",
        "keywords": ", ".join(network.keywords),
        "keywords_vocabulary": "GCMD Science Keywords",
        **features,
        "cdm_data_type": "Station",
        "id": f"{station.id}-{notes.product}-{notes.period}",
        "naming_authority": network.naming_authority,
        "source": notes.source,
        "platform": "fixed ground station",
        "platform_vocabulary": "free text",
        "instrument": notes.instrument,
        "instrument_vocabulary": "free text, after ISO 9060:2018",
        "processing_level": notes.processing_level,
        "comment": notes.comment,
        "references": network.references,
        "metadata_link": network.metadata_link,
        "standard_name_vocabulary": STANDARD_NAMES,
        "license": station.licence,
    }


def _people(network: Network, station: Station) -> dict[str, Attribute]:
    return {
        "institution": station.contact.institution,
        "project": network.project,
        "program": network.program,
        "acknowledgement": network.acknowledgement,
        **_party("creator", network.creator),
        **_party("publisher", network.publisher),
        "contributor_name": station.contact.institution,
        "contributor_role": station.contact.role,
    }


def _party(role: str, contact: Contact) -> dict[str, Attribute]:
    return {
        f"{role}_name": contact.institution,
        f"{role}_type": "institution",
        f"{role}_institution": contact.institution,
        f"{role}_email": contact.email,
        f"{role}_url": contact.url,
    }


def iso_time(unix_time: float) -> str:
    """
    ISO 8601 text of an instant.

    Parameters
    ----------
    unix_time : float
        [s since 1970-01-01 UTC]

    Returns
    -------
    text : str
        Whole seconds, with ``Z``.
    """
    return datetime.fromtimestamp(unix_time, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def iso_duration(seconds: int) -> str:
    """
    ISO 8601 duration in the largest unit that divides it.

    Parameters
    ----------
    seconds : int
        [s]

    Returns
    -------
    duration : str
        Such as ``PT1M``.
    """
    for length, unit in ((3600, "H"), (60, "M")):
        if seconds % length == 0:
            return f"PT{seconds // length}{unit}"
    return f"PT{seconds}S"


def coverage(notes: ProductNotes) -> dict[str, Attribute]:
    """
    Coverage in time.

    Parameters
    ----------
    notes : ProductNotes
        First and last time stamp, duration, resolution.

    Returns
    -------
    attributes : dict
        ``time_coverage_*``.
    """
    return {
        "time_coverage_start": iso_time(notes.start),
        "time_coverage_end": iso_time(notes.last),
        "time_coverage_duration": notes.duration,
        "time_coverage_resolution": notes.resolution,
    }


def extent(place: Place) -> dict[str, Attribute]:
    """
    Extent in space of a station.

    Parameters
    ----------
    place : Place
        Where it is.

    Returns
    -------
    attributes : dict
        ``geospatial_*``.
    """
    return {
        "geospatial_bounds": f"POINT ({place.latitude!r} {place.longitude!r})",
        "geospatial_bounds_crs": "EPSG:4326",
        "geospatial_bounds_vertical_crs": "EPSG:3855",
        "geospatial_lat_min": float(place.latitude),
        "geospatial_lat_max": float(place.latitude),
        "geospatial_lat_units": "degrees_north",
        "geospatial_lat_resolution": "0.0001 degree",
        "geospatial_lon_min": float(place.longitude),
        "geospatial_lon_max": float(place.longitude),
        "geospatial_lon_units": "degrees_east",
        "geospatial_lon_resolution": "0.0001 degree",
        "geospatial_vertical_min": float(place.altitude),
        "geospatial_vertical_max": float(place.altitude),
        "geospatial_vertical_units": "m",
        "geospatial_vertical_resolution": "1 m",
        "geospatial_vertical_positive": "up",
    }


def issue_attributes(entry: Entry) -> dict[str, Attribute]:
    """
    Version, dates and software.

    Parameters
    ----------
    entry : Entry
        Line of the change record.

    Returns
    -------
    attributes : dict
        Exactly those in `digest.CHANGE_RECORD_ATTRIBUTES`.
    """
    issued = entry.issued if "T" in entry.issued else f"{entry.issued}T00:00:00Z"
    dates: dict[str, Attribute] = {
        f"date_{what}": issued for what in ("created", "modified", "issued", "metadata_modified")
    }
    cause = f" ({entry.cause})" if entry.cause else ""
    return {
        "product_version": str(entry.version),
        "product_status": entry.status,
        **dates,
        "history": f"{issued} {entry.action} by {entry.software}{cause}",
        "processing_software": entry.software,
    }
