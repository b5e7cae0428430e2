"""Pages order stations and tell completeness, versions and changes."""

from __future__ import annotations

from pathlib import Path

import pytest

from sunledger.archive.catalog_facts import MonthFacts
from sunledger.archive.catalog_pages import (
    StationPage,
    esc_lines,
    index_page,
    overall_completeness,
    station_page,
)


def page(station: str, latitude: float, **shares: float) -> StationPage:
    """A station with the given share of global minutes per month."""
    about = {
        "title": f"minute data of {station}",
        "geospatial_lat_min": latitude,
        "geospatial_lon_min": -70.5,
        "geospatial_vertical_min": 12.0,
    }
    months = {m.replace("_", "-")[1:]: MonthFacts("", {"ghi": s}) for m, s in shares.items()}
    return StationPage(station, about, {}, months, (), Path("/archive") / station)


def test_stations_stand_from_north_to_south() -> None:
    html = index_page([page("south", -30.0), page("north", 60.0), page("middle", 1.0)])
    places = [html.index(f">{name}</a>") for name in ("north", "middle", "south")]
    assert places == sorted(places)
    assert "30.0000° S" in html
    assert "70.5000° W" in html


def test_completeness_is_the_mean_over_months() -> None:
    both = page("x", 1.0, m2031_03=0.5, m2031_04=1.0)
    assert overall_completeness(both) == pytest.approx(0.75)
    assert overall_completeness(page("x", 1.0)) is None
    assert ">75.0 %<" in index_page([both])


def test_station_without_revisions_says_so() -> None:
    html = station_page(page("x", 1.0), Path("/archive/catalog/x/index.html"))
    assert "<p>None.</p>" in html
    assert 'href="../../x/CHANGES.txt"' in html


def test_code_keeps_its_lines() -> None:
    assert esc_lines('a <b>\n  "c"') == "a &lt;b&gt;\n  &quot;c&quot;"
