"""Pages order stations and tell completeness, versions and changes."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from sunledger.archive.catalog_facts import MonthFacts
from sunledger.archive.catalog_pages import (
    STYLE,
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


def luminance(colour: str) -> float:
    """Relative luminance of #rgb or #rrggbb (WCAG 2.1, definition "relative luminance")."""
    digits = colour.lstrip("#")
    full = "".join(2 * d for d in digits) if len(digits) == 3 else digits
    parts = [int(full[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, two: str) -> float:
    """Contrast ratio (WCAG 2.1, definition "contrast ratio")."""
    high, low = sorted((luminance(one), luminance(two)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("scheme", [0, 1], ids=["light", "dark"])
def test_text_and_lines_stand_out_in_both_schemes(scheme: int) -> None:
    """WCAG 2.1, 1.4.3 (text: 4.5 to 1) and 1.4.11 (graphical objects: 3 to 1)."""
    assert contrast("#000", "#fff") == pytest.approx(21)
    block = STYLE.split(":root{")[1 + scheme]
    colours = dict(re.findall(r"--(\w+):(#[0-9a-f]+)", block))
    for paper in ("paper", "card"):
        for text in ("ink", "soft", "link", "one", "two", "three"):
            ratio = contrast(colours[text], colours[paper])
            assert ratio >= 4.5, (text, paper, ratio)
