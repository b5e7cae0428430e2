"""The visit sheet in a browser: accessibility by axe-core, at both widths, light and dark."""

from __future__ import annotations

from pathlib import Path

import pytest

from browser import DESKTOP, PHONE, accessibility, serious
from sunledger.report.visits import station_sheet


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("width", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_no_serious_violation(sound: Path, width: int, dark: bool) -> None:
    page = sound / "sheet.html"
    page.write_text(station_sheet(sound / "workflow.yaml", "tst"), encoding="utf-8")
    found = accessibility(page, width, dark)
    assert serious(found) == []
    assert found["rules"] > 15
    assert found["width"] <= found["window"], "the page scrolls sideways"
