"""DataCite metadata of a deposit, from the attributes of the files in it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from sunledger.archive.free_text import one_line
from sunledger.archive.listing import Published
from sunledger.archive.specification import Attribute, FileSpec

SCHEMA_VERSION = "http://datacite.org/schema/kernel-4"
_SPDX = "https://spdx.org/licenses/"
TEST_PREFIX = "10.5072"
"""Prefix that DataCite keeps for tests; such a DOI never resolves."""


def datacite_record(
    files: Sequence[Published], specs: Sequence[FileSpec], doi: str = ""
) -> dict[str, Any]:
    """
    A DataCite 4.5 record in JSON form.

    Parameters
    ----------
    files : sequence of Published
        What is deposited.
    specs : sequence of FileSpec
        Their attributes, in the same order.
    doi : str
        The DOI, where one is minted already.

    Returns
    -------
    record : dict
        Fit for `json.dumps`. Names are institutions', never a person's.
    """
    newest = max(specs, key=lambda s: str(s.attributes["date_issued"]))
    a = {name: _plain(value) for name, value in newest.attributes.items()}
    starts = [str(s.attributes["time_coverage_start"]) for s in specs]
    ends = [str(s.attributes["time_coverage_end"]) for s in specs]
    issued = a["date_issued"][:10]
    record = {
        "schemaVersion": SCHEMA_VERSION,
        "types": {"resourceTypeGeneral": "Dataset", "resourceType": "Solar radiation record"},
        "creators": [_institution(a["creator_name"])],
        "titles": [{"title": _title(files, a, min(starts), max(ends))}],
        "publisher": {"name": a["publisher_name"]},
        "publicationYear": issued[:4],
        "language": "en",
        "version": issued,  # files of several versions lie together; the newest date names the set
        "subjects": [{"subject": s} for s in dict.fromkeys(_subjects(a["keywords"]))],
        "contributors": [
            {**_institution(a["publisher_name"]), "contributorType": "HostingInstitution"},
            {**_institution(a["contributor_name"]), "contributorType": "DataCollector"},
        ],
        "dates": [
            {"date": f"{min(starts)[:10]}/{max(ends)[:10]}", "dateType": "Collected"},
            {"date": issued, "dateType": "Issued"},
        ],
        "alternateIdentifiers": [_acdd_id(a, s) for s in specs],
        "relatedIdentifiers": [
            {
                "relatedIdentifier": a["metadata_link"],
                "relatedIdentifierType": "URL",
                "relationType": "IsDocumentedBy",
            }
        ],
        "sizes": [f"{sum(f.manifest.size for f in files)} bytes", f"{len(files)} files"],
        "formats": ["application/x-netcdf"],
        "rightsList": [_rights(a["license"])],
        "descriptions": [
            {"description": one_line(a["summary"]), "descriptionType": "Abstract"},
            {"description": _technical(files), "descriptionType": "TechnicalInfo"},
        ],
        "geoLocations": [_location(a)],
    }
    return record | _doi(doi)


def _plain(value: Attribute) -> str:
    return one_line(str(value))


def _institution(name: str) -> dict[str, str]:
    return {"name": name, "nameType": "Organizational"}


def _subjects(keywords: str) -> list[str]:
    return [word.strip() for word in keywords.split(",") if word.strip()]


def _acdd_id(a: dict[str, str], spec: FileSpec) -> dict[str, str]:
    name = f"{a['naming_authority']}:{spec.attributes['id']}"
    return {"alternateIdentifier": name, "alternateIdentifierType": "ACDD id"}


def _location(a: dict[str, str]) -> dict[str, Any]:
    point = {
        "pointLatitude": float(a["geospatial_lat_min"]),
        "pointLongitude": float(a["geospatial_lon_min"]),
    }
    return {"geoLocationPlace": _place(a), "geoLocationPoint": point}


def _place(a: dict[str, str]) -> str:
    return a["title"].split(" data of ", 1)[-1]


def _title(files: Sequence[Published], a: dict[str, str], start: str, end: str) -> str:
    products = ", ".join(dict.fromkeys(f.manifest.product for f in files))
    return f"Solar and longwave irradiance at {_place(a)}: {products}, {start[:10]} to {end[:10]}"


def _technical(files: Sequence[Published]) -> str:
    digests = " ".join(f"{f.path.name} {f.manifest.logical_digest}" for f in files)
    return f"CF-1.11 NetCDF-4. Logical digests (SHA-256 over the content): {digests}"


def _rights(licence: str) -> dict[str, str]:
    if re.match(r"https?://", licence):
        return {"rights": licence, "rightsUri": licence}
    if re.fullmatch(r"[A-Za-z0-9.+-]+", licence):
        return {
            "rights": licence,
            "rightsUri": f"{_SPDX}{licence}.html",
            "rightsIdentifier": licence,
            "rightsIdentifierScheme": "SPDX",
            "schemeUri": _SPDX,
        }
    return {"rights": licence}


def _doi(doi: str) -> dict[str, str]:
    if not doi:
        return {}
    prefix, _, suffix = doi.partition("/")
    return {"doi": doi, "prefix": prefix, "suffix": suffix}
