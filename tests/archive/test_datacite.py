"""DataCite records are valid against the 4.5 schema that the package `datacite` ships."""

from __future__ import annotations

import pytest
from datacite import schema45

from archive.samples import with_attributes
from archive.small import small_archive
from sunledger.archive.datacite import TEST_PREFIX, datacite_record
from sunledger.archive.listing import Published, published
from sunledger.archive.netcdf import read_file


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> list[Published]:
    """Files of a small archive."""
    return list(published(small_archive(tmp_path_factory.mktemp("datacite"))))


@pytest.mark.parametrize(
    ("licence", "field"),
    [
        ("https://creativecommons.org/licenses/by/4.0/", "rightsUri"),
        ("CC0-1.0", "rightsIdentifier"),
        ("ask the institute, please", "rights"),
    ],
)
@pytest.mark.parametrize("doi", ["", f"{TEST_PREFIX}/northmere.1"])
def test_valid(files: list[Published], licence: str, field: str, doi: str) -> None:
    specs = [with_attributes(read_file(f.path), license=licence) for f in files]
    record = datacite_record(files, specs, doi)
    schema45.validator.validate(record)
    assert field in record["rightsList"][0]
    assert record.get("doi", "") == doi


def test_validator_would_notice(files: list[Published]) -> None:
    record = datacite_record(files, [read_file(f.path) for f in files])
    del record["publisher"]
    assert not schema45.validator.is_valid(record)


def test_says_what_the_files_say(files: list[Published]) -> None:
    record = datacite_record(files, [read_file(f.path) for f in files])
    assert record["publicationYear"] == "2031"
    assert record["version"] == "2031-09-01"
    assert record["dates"][0] == {"date": "2031-01-01/2031-03-02", "dateType": "Collected"}
    point = record["geoLocations"][0]["geoLocationPoint"]
    assert point == {"pointLatitude": 46.8, "pointLongitude": 9.8}
    assert all(c["nameType"] == "Organizational" for c in record["creators"])
