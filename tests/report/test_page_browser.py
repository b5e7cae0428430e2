"""The month's page in a browser: accessibility by axe-core, at both widths, light and dark."""

from __future__ import annotations

from pathlib import Path

import pytest

from browser import DESKTOP, PHONE, accessibility, serious
from sunledger.report.page import write_month_page


@pytest.fixture(scope="module")
def page(sample_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of a month of the sample."""
    path = tmp_path_factory.mktemp("page") / "month.html"
    return write_month_page(sample_folder / "build" / "sample_archive", "kpn", "2031-05", path)


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("width", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_no_serious_violation(page: Path, width: int, dark: bool) -> None:
    found = accessibility(page, width, dark)
    assert serious(found) == []
    assert found["rules"] > 20
    assert found["width"] <= found["window"], "the page scrolls sideways"


def test_what_is_wrong_is_found(page: Path, tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.html"
    text = page.read_text(encoding="utf-8")
    wrong.write_text(text.replace("</body>", '<img src="x.png"></body>'), encoding="utf-8")
    assert any(line.startswith("image-alt") for line in serious(accessibility(wrong)))
