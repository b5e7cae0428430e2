"""The picture shows every day that has a mean, breaks where there is none, and speaks."""

from __future__ import annotations

import itertools
import re
from xml.etree import ElementTree

from sunledger.archive.catalog_picture import HEIGHT, WIDTH, month_picture, present_of, station_map

DAYS = {"ghi": [100.0, 200.0, None, 50.0], "dni": [400.0, 0.0, None, None], "lwd": [300.0] * 4}


def test_well_formed_labelled_and_inside_its_frame() -> None:
    svg = month_picture('Ridge <2031> "x"', DAYS)
    root = ElementTree.fromstring(svg)
    label = 'Ridge <2031> "x": ghi from 50 to 200 W m-2; dni from 0 to 400 W m-2'
    assert root.attrib["aria-label"] == label
    for path in root.iter("path"):
        numbers = re.findall(r"[ML]([\d.]+) ([\d.]+)", path.attrib["d"])
        assert numbers
        assert all(0 <= float(x) <= WIDTH and 0 <= float(y) <= HEIGHT for x, y in numbers)
    assert {p.attrib["class"] for p in root.iter("path")} == {"grid", "ghi", "dni"}


def test_line_breaks_at_a_gap() -> None:
    paths = {
        p.attrib["class"]: p.attrib["d"]
        for p in ElementTree.fromstring(month_picture("x", DAYS)).iter("path")
    }
    assert (paths["ghi"].count("M"), paths["ghi"].count("L")) == (2, 1)
    assert (paths["dni"].count("M"), paths["dni"].count("L")) == (1, 1)


def test_labels_do_not_cover_each_other() -> None:
    svg = month_picture("x", {n: [0.0, 0.1] for n in ("ghi", "dni", "dhi")})
    texts = ElementTree.fromstring(svg).iter("text")
    heights = sorted(float(t.attrib["y"]) for t in texts if t.attrib.get("class"))
    assert len(heights) == 3
    assert min(b - a for a, b in itertools.pairwise(heights)) >= 10


def test_nothing_to_draw() -> None:
    assert month_picture("x", {"ghi": [None, None], "lwd": [300.0]}) == ""
    assert present_of([None, 1.0]) == [1.0]


def test_map_puts_north_up_and_east_right_and_links() -> None:
    svg = station_map(
        [('<b>"Ridge"', "a/index.html", 10.0, 46.0), ("Pan", "b/index.html", -70, -30)]
    )
    root = ElementTree.fromstring(svg)
    dots = {a.attrib["href"]: a.find("circle").attrib for a in root.iter("a")}  # type: ignore[union-attr]
    assert {k: (float(d["cx"]), float(d["cy"])) for k, d in dots.items()} == {
        "a/index.html": (190.0, 44.0),
        "b/index.html": (110.0, 120.0),
    }
    assert [a.attrib["aria-label"] for a in root.iter("a")] == ['<b>"Ridge"', "Pan"]
