"""STAC documents: periods, licences, and links of every document."""

from __future__ import annotations

import pytest

from sunledger.archive.catalog_stac import root_catalog, station_collection, station_title

ABOUT = {
    "title": "minute data of Ridge, Network",
    "geospatial_lat_min": 46.8,
    "geospatial_lon_min": 9.8,
    "license": "CC0-1.0",
}


@pytest.mark.parametrize(
    ("periods", "first", "last"),
    [
        (["2032-02"], "2032-02-01T00:00:00Z", "2032-02-29T23:59:59Z"),
        (["2031", "2031-03"], "2031-01-01T00:00:00Z", "2031-12-31T23:59:59Z"),
    ],
)
def test_extent(periods: list[str], first: str, last: str) -> None:
    collection = station_collection("ossel", ABOUT, periods)
    assert collection["extent"]["temporal"]["interval"] == [[first, last]]
    assert len([x for x in collection["links"] if x["rel"] == "item"]) == len(periods)
    assert station_title(ABOUT) == collection["title"] == "Ridge, Network"


def test_licence_that_is_no_identifier() -> None:
    about = {**ABOUT, "license": "https://example.org/licence"}
    assert station_collection("ossel", about, ["2031"])["license"] == "other"
    assert station_collection("ossel", ABOUT, ["2031"])["license"] == "CC0-1.0"


def test_every_station_is_a_child() -> None:
    links = root_catalog(["a", "b"])["links"]
    assert [x["href"] for x in links if x["rel"] == "child"] == [
        "./a/collection.json",
        "./b/collection.json",
    ]
