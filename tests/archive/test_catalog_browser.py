"""The catalogue in a browser: accessibility by axe-core, at both widths, light and dark."""

from __future__ import annotations

from pathlib import Path

import pytest

from archive.small import small_archive
from browser import DESKTOP, PHONE, accessibility, serious
from sunledger.archive.catalog import write_catalog


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A catalogue of one station."""
    archive = small_archive(tmp_path_factory.mktemp("browser"))
    write_catalog(archive)
    return archive / "catalog"


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("width", [DESKTOP, PHONE], ids=["desktop", "phone"])
@pytest.mark.parametrize("name", ["index.html", "ossel/index.html"])
def test_no_serious_violation(pages: Path, name: str, width: int, dark: bool) -> None:
    found = accessibility(pages / name, width, dark)
    assert serious(found) == []
    assert found["rules"] > 10
    shade = sum(int(n) for n in found["background"].strip("rgba()").split(",")[:3])
    assert (shade < 384) == dark
    assert found["width"] <= found["window"], "the page scrolls sideways"


def test_what_is_wrong_is_found(pages: Path, tmp_path: Path) -> None:
    page = tmp_path / "wrong.html"
    text = (pages / "index.html").read_text(encoding="utf-8")
    page.write_text(text.replace("</body>", '<img src="x.png"></body>'), encoding="utf-8")
    assert any(line.startswith("image-alt") for line in serious(accessibility(page)))
