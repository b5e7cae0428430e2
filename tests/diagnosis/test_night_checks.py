"""The nights of a month."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from generated_month import generated
from northmere.light import SIGMA
from recorded_month import recorded
from sunledger.diagnosis.beside import Beside
from sunledger.diagnosis.month import NOT_ENOUGH, DiagnosedMonth
from sunledger.diagnosis.night_checks import class_limit, night_numbers, nights
from sunledger.diagnosis.of_record import coefficients_at


@pytest.fixture(scope="module")
def month() -> DiagnosedMonth:
    """A generated month with its net longwave."""
    parts, scene = generated("kpn", 11, "2031-08-01", 30)
    net = scene.truth["lwd"] - SIGMA * scene.body**4
    return replace(recorded(parts), beside=Beside(net_longwave=net))


def test_offsets_are_told_by_instrument_and_agree_with_the_class(month: DiagnosedMonth) -> None:
    """The generator's instruments keep their class; the direct does not follow the net longwave."""
    found, told = nights(month)
    assert found == []
    assert {name: told[name]["verdict"] for name in told} == dict.fromkeys(
        ("ghi", "dhi", "dni"), "within the class"
    )
    assert told["ghi"]["class_limit"] == 7
    assert told["ghi"]["at_class"][0] < told["ghi"]["offset"][0] < 0
    assert told["dni"]["at_class"] is None
    assert told["dni"]["class_limit"] == 2
    assert told["ghi"]["corrected_before"] is False


def test_an_offset_beyond_its_class_is_a_finding(month: DiagnosedMonth) -> None:
    """Class A allows 7 W m-2 at 200 W m-2 (ISO 9060:2018 by quotation)."""
    net = month.beside.net_longwave
    assert net is not None
    worse = replace(month, parts=replace(month.parts, ghi=month.parts.ghi + 0.06 * net))
    (found,), told = nights(worse)
    assert (found.name, found.target) == ("night_offset_beyond_class", "ghi")
    assert told["ghi"]["verdict"] == "beyond the class"
    plain = nights(month)[1]["ghi"]["at_class"][0]
    assert found.size == pytest.approx(plain - 12.0, abs=0.2)  # a median of sums
    zero = replace(month, parts=replace(month.parts, dni=month.parts.dni + 5.0))
    assert [(f.name, f.target) for f in nights(zero)[0]] == [("night_offset_beyond_class", "dni")]


def test_without_net_longwave_a_pyranometer_is_not_judged(month: DiagnosedMonth) -> None:
    """Its offset is told as it is, and nothing of the class unless it is small enough anyway."""
    bare = replace(month, beside=Beside())
    found, told = nights(bare)
    assert found == []
    assert told["ghi"]["at_class"] is None
    offset = replace(bare, parts=replace(bare.parts, ghi=bare.parts.ghi - 9.0))
    assert nights(offset)[0] == []


def test_a_change_over_the_months_is_a_finding(month: DiagnosedMonth) -> None:
    """Against the median of the months before, as their verdicts hold it."""
    told = nights(month)[1]
    earlier = {f"2031-0{n}": {"nights": told} for n in (4, 5, 6)}
    assert nights(replace(month, told_before=earlier))[0] == []
    net = month.beside.net_longwave
    assert net is not None
    parts = replace(month.parts, dhi=month.parts.dhi + 0.02 * net)
    (found,) = nights(replace(month, parts=parts, told_before=earlier))[0]
    assert (found.name, found.target) == ("night_offset_changed", "dhi")
    assert found.size == pytest.approx(-4.0, abs=0.3)


def test_few_nights_are_not_enough(month: DiagnosedMonth) -> None:
    """Five nights at least; the month begins and ends at midnight, in the middle of one."""
    few = np.where(month.parts.middle < month.parts.middle[3 * 1440], month.parts.ghi, np.nan)
    assert nights(replace(month, parts=replace(month.parts, ghi=few)))[1]["ghi"] == {
        "verdict": NOT_ENOUGH
    }


def test_a_night_has_one_number(month: DiagnosedMonth) -> None:
    """It changes at local noon, not at midnight."""
    numbers = night_numbers(month)
    local = month.parts.middle + month.parts.longitude * 240.0
    at = np.flatnonzero(np.diff(numbers)) + 1
    assert np.abs(local[at] % 86400 - 43200).max() < 60.0


def test_the_limit_is_that_of_the_kind_and_class(month: DiagnosedMonth) -> None:
    """Nothing without a class."""
    row = coefficients_at(month, month.resolved.start)["ghi"]
    assert class_limit(replace(row, iso_class="C")) == 30
    assert class_limit(replace(row, kind="pyrheliometer", iso_class="B")) == 4
    assert class_limit(replace(row, iso_class=None)) is None
    assert class_limit(None) is None
