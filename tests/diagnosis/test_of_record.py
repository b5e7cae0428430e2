"""What the checks read of the record."""

from __future__ import annotations

from dataclasses import replace

import invented
from recorded_month import START, cleaning, recorded
from sunledger.diagnosis.of_record import (
    cleanings,
    coefficients_at,
    dirty_since,
    other_sensitivities,
    sensitivities,
    stretches,
    was_cleaned,
)
from sunledger.diagnosis.selection import Components


def test_a_month_without_exchanges_is_one_stretch(dry_month: Components) -> None:
    """With the sensitivities of the certificates in force."""
    month = recorded(dry_month)
    assert stretches(month) == ((month.resolved.start, month.resolved.end),)
    in_use = sensitivities(coefficients_at(month, month.resolved.start))
    assert in_use == {
        "ghi": invented.SENSITIVITY["global_1"],
        "dhi": invented.SENSITIVITY["diffuse_1"],
        "dni": invented.SENSITIVITY["direct_1"],
    }


def test_an_exchange_parts_the_month(dry_month: Components) -> None:
    """A row of coefficients that ends, with another after it."""
    month = recorded(dry_month)
    half = START + 15 * 86400
    rows = []
    for row in month.resolved.coefficients:
        if row.quantity == "dni":
            rows += [replace(row, end=half), replace(row, start=half, serial_number="NR-other")]
        else:
            rows.append(row)
    parted = replace(month, resolved=replace(month.resolved, coefficients=tuple(rows)))
    assert [a for a, _ in stretches(parted)] == [month.resolved.start, half]
    gone = [r for r in rows if r.quantity != "dhi"]
    without = replace(month, resolved=replace(month.resolved, coefficients=tuple(gone)))
    assert stretches(without) == ()


def test_cleanings_of_the_month(dry_month: Components) -> None:
    """Each time once, others left out."""
    month = recorded(dry_month, [cleaning(10), cleaning(20), cleaning(45)])
    assert cleanings(month) == (START + 10 * 86400, START + 20 * 86400)


def test_cleanings_of_one_visit_are_one(dry_month: Components) -> None:
    """Two entries five minutes apart, and one on the next day."""
    later = cleaning(10) | {"id": "fl-clean-later", "time": "2031-08-11 00:05"}
    month = recorded(dry_month, [cleaning(10), later, cleaning(11)])
    assert cleanings(month) == (START + 10 * 86400, START + 11 * 86400)


def test_what_a_visit_cleaned_and_since_when_it_was_dirty(dry_month: Components) -> None:
    """By position: the cleaning before, else the deployment, which is not in the month."""
    own = cleaning(20) | {"positions": ["global_1"]}
    month = recorded(dry_month, [cleaning(10), own])
    visit = START + 20 * 86400
    assert was_cleaned(month, "global_1", visit)
    assert not was_cleaned(month, "direct_1", visit)
    assert was_cleaned(month, "direct_1", START + 10 * 86400)
    assert dirty_since(month.config, "global_1", visit) == START + 10 * 86400
    before = dirty_since(month.config, "global_1", START + 10 * 86400)
    assert before is not None
    assert before < START
    assert dirty_since(month.config, "nowhere", visit) is None


def test_instruments_that_stand_nowhere_are_others(dry_month: Components) -> None:
    """Those in use are not among them."""
    month = recorded(dry_month)
    rows = coefficients_at(month, month.resolved.start)
    others = other_sensitivities(month, rows)
    assert not [name for name in others if any(r.serial_number in name for r in rows.values())]
    fewer = {n: r for n, r in rows.items() if n != "dni"}
    (name,) = other_sensitivities(month, fewer).keys() - others.keys()
    assert name.endswith("as dni")
