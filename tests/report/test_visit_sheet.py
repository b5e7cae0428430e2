"""The sheet: cautions first, the record filled in, blanks, and all that people wrote escaped."""

from __future__ import annotations

from pathlib import Path

from sunledger.config.checklists import load_checklist
from sunledger.config.loading import load_station
from sunledger.config.models.checks import CheckSettings
from sunledger.report.visit_sheet import CAUTIONS, visit_sheet

FINDING = {
    "name": "level_step",
    "target": "global_1",
    "size": 0.9,
    "unit": "degree",
    "action": "level <it>",
}


def sheet(sound: Path, **changes: object) -> str:
    """The sheet of the sound station."""
    config = load_station(sound / "station")
    return visit_sheet(config, load_checklist(config), CheckSettings(), **changes)  # type: ignore[arg-type]


def test_cautions_come_first(sound: Path) -> None:
    """Those of every sheet, then the station's, before anything to do."""
    page = sheet(sound).replace("&#x27;", "'")
    places = [page.index(c) for c in CAUTIONS]
    own = page.index("bring &lt;water&gt; &amp; shade")
    assert places == sorted(places)
    assert places[-1] < own < page.index("<table")
    for word in ("tracker moves", "Heights", "Mains", "Lightning", "Never look at the sun"):
        assert word in page


def test_the_record_is_filled_in(sound: Path) -> None:
    page = sheet(sound)
    for said in (
        *("GL-01", "8.4 uV W-1 m2, certificate C-GL-01-30 of 2030-11-02", "class A"),
        *("2031-01-10 10:00: found 0.3° toward 120°, left 0.05°", "2031-02-01 08:00: dust"),
        *("UTC+01:00", "2031-02-01 08:30: found +3.5 s, not set", "2031-03-04"),
    ):
        assert said in page


def test_practice_without_a_source_is_marked(sound: Path) -> None:
    """An item with a source names it instead."""
    page = sheet(sound)
    assert page.count("(common practice)</span>") == 6
    assert page.count("(WMO-No. 8)</span>") == 1


def test_blanks_as_found_and_as_left(sound: Path) -> None:
    """Two a place of an item; the second look at the level has its own."""
    page = sheet(sound)
    head, _, rest = page.partition("1. Bench &lt;1&gt;")
    place = rest.partition("<h2>")[0]
    assert place.count('class="blank"') == 2 * 9
    assert place.count('class="mark"') == 9
    assert "once more" in place
    assert 'class="blank"' in head


def test_findings_and_where_there_are_none(sound: Path) -> None:
    assert "level &lt;it&gt;" in sheet(sound, findings=("2031-01", (FINDING,)))
    assert "of 2031-01 found nothing above its limits" in sheet(sound, findings=("2031-01", ()))
    assert "No diagnosis of this station was at hand" in sheet(sound)


def test_notes_are_escaped(sound: Path) -> None:
    log = sound / "station" / "fieldlog.yaml"
    log.write_text(log.read_text().replace("found: dust", 'found: "<script>x</script>"'))
    page = sheet(sound)
    assert "<script" not in page
    assert "&lt;script&gt;x" in page


def test_the_sheet_needs_nothing_from_elsewhere(sound: Path) -> None:
    page = sheet(sound)
    assert "http" not in page
    assert "<img" not in page
    assert page == sheet(sound)


def test_nothing_on_record(sound: Path) -> None:
    """A station whose log is empty still gets its sheet."""
    (sound / "station" / "fieldlog.yaml").write_text("entries: []\n")
    page = sheet(sound)
    assert "has no entry yet" in page
    assert page.count("nothing stands here") == 4 + 2  # every radiometer, and the two exchanges
