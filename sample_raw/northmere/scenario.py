"""The stations that can be made."""

from __future__ import annotations

from northmere.karru_pan import KARRU_PAN
from northmere.ossel_ridge import OSSEL_RIDGE
from northmere.shapes import Scenario

SCENARIOS: dict[str, Scenario] = {s.id: s for s in (OSSEL_RIDGE, KARRU_PAN)}
