"""The logical digest sees every bit of the content and nothing of the change record or storage."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from archive.samples import hourly_file, minute_file, monthly_file, with_attributes
from sunledger.archive.content import (
    CHANGE_RECORD_ATTRIBUTES,
    LEFT_OUT,
    content_digest,
    part_digests,
    rest_digest,
)
from sunledger.archive.specification import FileSpec, Packing, VariableSpec


def test_change_record_does_not_count() -> None:
    spec = monthly_file()
    other = with_attributes(spec, **dict.fromkeys(CHANGE_RECORD_ATTRIBUTES, "other"))
    assert content_digest(other) == content_digest(spec)
    assert content_digest(other, leave_out=()) != content_digest(spec, leave_out=())


def test_every_other_global_attribute_counts() -> None:
    spec = monthly_file()
    for name in set(spec.attributes) - LEFT_OUT:
        assert content_digest(with_attributes(spec, **{name: "other"})) != content_digest(spec), (
            name
        )


def test_the_two_digests_see_all_attributes_and_share_none() -> None:
    spec = monthly_file()
    for name in spec.attributes:
        other = with_attributes(spec, **{name: "other"})
        seen = (
            content_digest(other) != content_digest(spec),
            rest_digest(other) != rest_digest(spec),
        )
        assert seen == (name not in LEFT_OUT, name in LEFT_OUT), name


def change(spec: FileSpec, name: str, **changes: object) -> FileSpec:
    """The file with one variable changed."""
    variables = tuple(replace(v, **changes) if v.name == name else v for v in spec.variables)
    return replace(spec, variables=variables)


def test_one_flipped_bit_counts() -> None:
    spec = minute_file()
    data = spec["ghi"].data.copy()
    data.view(np.int32)[-1] ^= 1
    assert content_digest(change(spec, "ghi", data=data)) != content_digest(spec)


def test_attribute_type_dimension_and_group_count() -> None:
    spec = monthly_file()
    table = spec.groups[0].groups[0]
    fewer = replace(table, variables=table.variables[:-1])
    changed = (
        change(spec, "ghi", attributes={**spec["ghi"].attributes, "units": "kW m-2"}),
        change(spec, "ghi", data=spec["ghi"].data.astype(float), dtype="f8"),
        change(spec, "ghi", fill_value=-999.0),
        change(spec, "ghi_exposure", dimensions=("bound",)),
        replace(spec, groups=(replace(spec.groups[0], groups=(fewer,)),)),
        replace(spec, dimensions={"time": 3, "bound": 2, "more": 1}),
    )
    assert len({content_digest(each) for each in (spec, *changed)}) == len(changed) + 1


def test_order_does_not_count() -> None:
    spec = monthly_file()
    attributes = dict(reversed(spec.attributes.items()))
    other = replace(spec, attributes=attributes, variables=spec.variables[::-1])
    assert content_digest(other) == content_digest(spec)


@pytest.mark.parametrize("packing", [Packing(1), Packing(2), None])
def test_same_stored_integers_with_other_decimals_differ(packing: Packing | None) -> None:
    one = VariableSpec("v", ("t",), np.array([3.0]), {}, "f8", None, Packing(0))
    scale = 1 if packing is None else 10**packing.decimals
    other = VariableSpec("v", ("t",), np.array([3.0]) / scale, {}, "f8", None, packing)
    files = [FileSpec({}, {"t": 1}, (v,)) for v in (one, other)]
    assert content_digest(files[0]) != content_digest(files[1])


def test_parts_change_where_their_rows_change() -> None:
    spec = hourly_file()
    labels = ["2031-03"] * 744 + ["2031-04"] * 720
    before = part_digests(spec, "time", labels)
    data = spec["ghi"].data.copy()
    data[800] += 1
    after = part_digests(change(spec, "ghi", data=data), "time", labels)
    assert list(before) == ["2031-03", "2031-04"]
    assert after["2031-03"] == before["2031-03"]
    assert after["2031-04"] != before["2031-04"]


def test_part_is_the_same_in_a_longer_file() -> None:
    spec = monthly_file()
    short = tuple(
        replace(v, data=v.data[:2]) if v.dimensions[:1] == ("time",) else v for v in spec.variables
    )
    shorter = replace(spec, dimensions={"time": 2, "bound": 2}, variables=short)
    labels = ["2031-01", "2031-02", "2031-03"]
    whole = part_digests(spec, "time", labels)
    assert part_digests(shorter, "time", labels[:2]) == {k: whole[k] for k in labels[:2]}
