"""The network's page: order with its reasons, escaped, linking only to what lies beside it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import small_project
from browser import DESKTOP, PHONE, accessibility, serious
from network_states import finding, state, with_findings
from sunledger.report.network import RULE
from sunledger.report.network_page import network_page, write_network_page


def test_order_and_rule_are_stated() -> None:
    page = network_page([state("bbb", missing=600), with_findings("aaa", finding(3.0))], "2031-04")
    assert RULE in page
    assert page.index("Station bbb") < page.index("Station aaa")
    assert "level &lt;it&gt;" in page
    assert "60.0 % of the minutes missing or bad" in page
    assert "<a href" not in page.replace('<a class="skip" href="#main">', "")


def test_titles_are_escaped() -> None:
    page = network_page([replace(state("a"), title="<b>Ridge")], "2031-04")
    assert "<b>" not in page
    assert "http" not in page


def test_no_station_and_no_data() -> None:
    assert "The archive holds no station." in network_page([], "2031-04")
    page = network_page([replace(state("a"), minute=None, findings=None)], "2031-04")
    assert "nothing arrived" in page
    assert "No monthly mean is held" in page


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of the small project, with one station's page beside it."""
    archive = small_project.made_once(tmp_path_factory.getbasetemp()).parent / "archive"
    folder = tmp_path_factory.mktemp("network")
    (folder / small_project.STATION).mkdir()
    (folder / small_project.STATION / "visit_sheet.html").write_text("x")
    return write_network_page(archive, "2031-06", folder / "network.html")


def test_links_go_to_what_lies_beside(written: Path) -> None:
    page = written.read_text(encoding="utf-8")
    assert f'href="{small_project.STATION}/visit_sheet.html"' in page
    assert "report_2031-06" not in page


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("width", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_no_serious_violation(written: Path, width: int, dark: bool) -> None:
    found = accessibility(written, width, dark)
    assert serious(found) == []
    assert found["rules"] > 15
    assert found["width"] <= found["window"], "the page scrolls sideways"
