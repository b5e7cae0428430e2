"""Certificates, channels and wires mixed up."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sunledger.diagnosis.mixups import (
    all_causes,
    certificate_mixup,
    gross_mixups,
    other_causes,
    swap_causes,
)
from sunledger.diagnosis.ratios import sky_ratios
from sunledger.diagnosis.selection import Components
from sunledger.diagnosis.separation import Pair, judge, pair_of_month, with_calibrations
from sunledger.diagnosis.subject import subject_of

IN_USE = {"ghi": 11.85, "dhi": 12.31, "dni": 8.21}


def test_pairs_that_hardly_differ_are_no_candidates() -> None:
    """8.00 and 8.05 cannot be told apart by closure."""
    assert swap_causes({"ghi": 8.0, "dhi": 8.05}) == ()
    names = [c.name for c in swap_causes(IN_USE)]
    assert names == ["swapped dhi dni", "swapped dhi ghi", "swapped dni ghi"]


@pytest.mark.parametrize(("first", "second"), [("ghi", "dhi"), ("ghi", "dni"), ("dhi", "dni")])
def test_exchanged_certificates_are_named(dry_month: Components, first: str, second: str) -> None:
    """Each reading times the ratio that the wrong divisor makes."""
    true = dict(IN_USE)
    wrong = true | {first: true[second], second: true[first]}
    changed = {n: getattr(dry_month, n) * true[n] / wrong[n] for n in (first, second)}
    month = sky_ratios(replace(dry_month, **changed))
    pair = with_calibrations(pair_of_month(*month), {"ghi": 0.009, "dhi": 0.008, "dni": 0.0045})
    found = certificate_mixup(
        subject_of(dry_month, "kpn", "2031-08"), pair, judge(pair, all_causes(wrong))
    )
    if found is None:
        assert {first, second} == {"ghi", "dhi"}  # a ratio of 1.04, within the certificates
        return
    assert (found.name, found.target) == (
        "certificates_swapped",
        " ".join(sorted((first, second))),
    )


def test_another_instruments_certificate_is_named_with_its_number() -> None:
    """A spare pyranometer stands there, 7 % more sensitive; nothing else meets 7 %."""
    causes = all_causes(IN_USE, {"NMR-C-30-0999": ("ghi", 12.68)})
    error = np.log(12.68 / 11.85)
    pair = Pair(
        np.array([error, error]), np.diag([1e-6, 4e-6]), np.array([0.15, 1.0]), 2000, 9, 1e6
    )
    verdict = judge(pair, causes)
    found = certificate_mixup(subject_of_nothing(), pair, verdict)
    assert found is not None
    assert (found.name, found.target) == ("certificate_of_another", "ghi")
    assert "NMR-C-30-0999" in found.action
    assert other_causes(IN_USE, {"same": ("ghi", 11.86)}) == ()


def subject_of_nothing() -> Any:
    """A subject without means."""
    from sunledger.diagnosis.subject import Subject

    return Subject("kpn", "2031-08")


@pytest.mark.parametrize("name", ["ghi", "dhi", "dni"])
def test_reversed_wires(dry_month: Components, name: str) -> None:
    """The sign by day."""
    wrong = replace(dry_month, **{name: -getattr(dry_month, name)})
    (found,) = gross_mixups(subject_of(wrong, "kpn", "2031-08"), wrong, IN_USE)
    assert (found.name, found.target) == ("polarity_reversed", name)


@pytest.mark.parametrize("power", [-1, 1])
@pytest.mark.parametrize("name", ["ghi", "dhi", "dni"])
def test_powers_of_ten(dry_month: Components, name: str, power: int) -> None:
    """Of one quantity, either way."""
    wrong = replace(dry_month, **{name: getattr(dry_month, name) * 10.0**power})
    (found,) = gross_mixups(subject_of(wrong, "kpn", "2031-08"), wrong, IN_USE)
    assert (found.name, found.target, found.size) == ("factor_of_ten", name, float(power))


@pytest.mark.parametrize(("first", "second"), [("ghi", "dhi"), ("ghi", "dni"), ("dhi", "dni")])
def test_exchanged_channels(dry_month: Components, first: str, second: str) -> None:
    """Each position shows the other's voltage over its own sensitivity."""
    a, b = getattr(dry_month, first), getattr(dry_month, second)
    ratio = IN_USE[second] / IN_USE[first]
    wrong = replace(dry_month, **{first: b * ratio, second: a / ratio})
    (found,) = gross_mixups(subject_of(wrong, "kpn", "2031-08"), wrong, IN_USE)
    assert (found.name, found.target) == ("channels_exchanged", f"{first} {second}")


def test_months_without_gross_faults(dry_month: Components, published_month: Components) -> None:
    """Generated and real; and a month without light says nothing."""
    for month in (dry_month, published_month):
        assert gross_mixups(subject_of(month, "s", "m"), month, IN_USE) == ()
    dark = replace(dry_month, usable=np.zeros(dry_month.middle.size, bool))
    assert gross_mixups(subject_of(dark, "s", "m"), dark, IN_USE) == ()
