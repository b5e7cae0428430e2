"""The month's page in a browser: accessibility by axe-core, at both widths, light and dark."""

from __future__ import annotations

from pathlib import Path

import pytest
import xarray as xr

from browser import DESKTOP, PHONE, accessibility, serious
from drawn_minutes import minutes
from sunledger.report.month import StationMonth
from sunledger.report.page import month_page, write_month_page


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


@pytest.mark.parametrize("held", [None, minutes(zenith=110.0)], ids=["no data", "polar night"])
def test_months_with_little_to_show(held: xr.Dataset | None, tmp_path: Path) -> None:
    """No serious violation either, on a phone in the dark."""
    bare = StationMonth("osr", "2031-04", "Ridge", None, held, {}, {}, None, (), (), {})
    path = tmp_path / "bare.html"
    path.write_text(month_page(bare), encoding="utf-8")
    found = accessibility(path, PHONE, dark=True)
    assert serious(found) == []
    assert found["width"] <= found["window"], "the page scrolls sideways"
