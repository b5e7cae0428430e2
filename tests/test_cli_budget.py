"""The budget command: a table, and errors in words."""

from __future__ import annotations

import re
from pathlib import Path

from typer.testing import CliRunner, Result

from sunledger.cli import app

STATION = Path(__file__).resolve().parent.parent / "configs" / "stations" / "ossel_ridge"


def call(*words: str) -> Result:
    """The command line, as a person calls it."""
    return CliRunner().invoke(app, ["budget", str(STATION), *words])


def test_table_at_given_conditions() -> None:
    """Exit code 0; the rows' squares add up to the square of the combined uncertainty."""
    done = call("ghi", "--irradiance", "900", "--zenith", "30", "--temperature", "10")
    assert done.exit_code == 0, done.output
    assert "irradiance 900 W m-2, zenith 30 degree, beam 1000 W m-2, body 10 degC" in done.output
    sizes = [float(n) for n in re.findall(r" (\d+\.\d{3})  (?:common|indep|lasting)", done.output)]
    (combined,) = re.findall(r"combined standard uncertainty ([\d.]+) W m-2", done.output)
    assert len(sizes) >= 15
    assert abs(sum(s**2 for s in sizes) ** 0.5 - float(combined)) < 0.005


def test_unknown_quantity_names_the_known_ones() -> None:
    """Exit code 2."""
    done = call("lwu")
    assert done.exit_code == 2
    assert "measures no such quantity; allowed: ghi" in done.output
