"""The catalogue for programs: STAC catalog, one collection a station, one item a period."""

from __future__ import annotations

import calendar
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from sunledger.archive.catalog_facts import MonthFacts, page_link
from sunledger.archive.free_text import one_line
from sunledger.archive.listing import Published

VERSION = "1.1.0"
MEDIA_TYPE = "application/x-netcdf"


def _link(rel: str, href: str, kind: str = "application/json") -> dict[str, str]:
    return {"rel": rel, "href": href, "type": kind}


def root_catalog(stations: Sequence[str]) -> dict[str, Any]:
    """
    The catalogue of an archive.

    Parameters
    ----------
    stations : sequence of str
        Identifiers.

    Returns
    -------
    catalog : dict
        STAC Catalog.
    """
    children = [_link("child", f"./{s}/collection.json") for s in stations]
    return {
        "type": "Catalog",
        "stac_version": VERSION,
        "id": "archive",
        "title": "Solar radiation archive",
        "description": "Solar and longwave irradiance of ground stations, CF NetCDF files.",
        "links": [_link("root", "./catalog.json"), *children],
    }


def station_collection(
    station: str, about: Mapping[str, Any], periods: Sequence[str]
) -> dict[str, Any]:
    """
    The collection of a station.

    Parameters
    ----------
    station : str
        Identifier.
    about : dict
        Global attributes of one of its files.
    periods : sequence of str
        Months and years that have an item.

    Returns
    -------
    collection : dict
        STAC Collection.
    """
    first = min(_span(p)[0] for p in periods)
    last = max(_span(p)[1] for p in periods)
    longitude, latitude = _place(about)
    return {
        "type": "Collection",
        "stac_version": VERSION,
        "id": station,
        "title": station_title(about),
        "description": one_line(str(about.get("summary", station))),
        "license": _licence(str(about.get("license", ""))),
        "extent": {
            "spatial": {"bbox": [[longitude, latitude, longitude, latitude]]},
            "temporal": {"interval": [[first, last]]},
        },
        "links": [
            _link("root", "../catalog.json"),
            _link("parent", "../catalog.json"),
            *(_link("item", f"./{p}.json", "application/geo+json") for p in periods),
        ],
    }


def _licence(text: str) -> str:
    # STAC takes SPDX identifiers; anything else is "other" and stands in the files.
    return text if text and "/" not in text and " " not in text else "other"


def station_title(about: Mapping[str, Any]) -> str:
    """
    Name of a station as its files give it.

    Parameters
    ----------
    about : dict
        Global attributes of one of its files.

    Returns
    -------
    title : str
        Station and network.
    """
    return one_line(str(about.get("title", ""))).split(" data of ", 1)[-1]


def _place(about: Mapping[str, Any]) -> tuple[float, float]:
    return float(about["geospatial_lon_min"]), float(about["geospatial_lat_min"])


def _span(period: str) -> tuple[str, str]:
    year, _, month = period.partition("-")
    first, last = int(month or 1), int(month or 12)
    days = calendar.monthrange(int(year), last)[1]
    return f"{year}-{first:02}-01T00:00:00Z", f"{year}-{last:02}-{days}T23:59:59Z"


def period_item(
    page: Path, files: Sequence[Published], about: Mapping[str, Any], facts: MonthFacts | None
) -> dict[str, Any]:
    """
    The item of a station and a month or year.

    Parameters
    ----------
    page : Path
        Where the item will stand; links are relative to it.
    files : sequence of Published
        Files of that period.
    about : dict
        Global attributes of one of the station's files.
    facts : MonthFacts or None
        Of the minute file, where there is one.

    Returns
    -------
    item : dict
        STAC Item; an asset a file, with ``sunledger:sha256``, ``sunledger:bytes``,
        ``sunledger:version`` and ``sunledger:status``.
    """
    m = files[0].manifest
    longitude, latitude = _place(about)
    first, last = _span(m.period)
    properties: dict[str, Any] = {"datetime": None, "start_datetime": first, "end_datetime": last}
    if facts is not None:
        properties["sunledger:minutes"] = asdict(facts)
    return {
        "type": "Feature",
        "stac_version": VERSION,
        "id": f"{m.station}-{m.period}",
        "collection": m.station,
        "geometry": {"type": "Point", "coordinates": [longitude, latitude]},
        "bbox": [longitude, latitude, longitude, latitude],
        "properties": properties,
        "assets": {f.recorded_product: _asset(page, f) for f in files},
        "links": [
            _link("root", "../catalog.json"),
            _link("parent", "./collection.json"),
            _link("collection", "./collection.json"),
        ],
    }


def _asset(page: Path, file: Published) -> dict[str, Any]:
    m = file.manifest
    return {
        "href": page_link(page, file.path),
        "type": MEDIA_TYPE,
        "title": file.path.name,
        "roles": ["data"],
        "sunledger:sha256": m.file_sha256,
        "sunledger:bytes": m.size,
        "sunledger:version": m.version,
        "sunledger:status": m.status,
    }
