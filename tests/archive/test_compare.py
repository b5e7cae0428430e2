"""The size of a change is what arithmetic says it is, whatever moved."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from archive.samples import minute_file, monthly_file, voltage_file
from archive.small import scaled, small_archive
from sunledger.archive.compare import (
    compare,
    compare_specs,
    comparison_lines,
    size_of_change,
)
from sunledger.archive.specification import FileSpec
from sunledger.errors import ArchiveError


def with_data(spec: FileSpec, name: str, data: np.ndarray) -> FileSpec:
    """The same file with other values of a series."""
    return replace(
        spec,
        variables=tuple(replace(v, data=data) if v.name == name else v for v in spec.variables),
    )


def test_same_file_is_same() -> None:
    for spec in (minute_file(), voltage_file(), monthly_file()):
        comparison = compare_specs(spec, spec, "x.nc")
        assert comparison.same
        assert comparison_lines(comparison) == ["x.nc: same values"]
        assert size_of_change(spec, spec) == {}


def test_mean_percentile_share_lost_and_gained_worked_by_hand() -> None:
    """20 samples move by 1, 2 ... 20; the 95th percentile lies at rank 0.95 x 19 = 18.05."""
    spec = minute_file(days=1)
    old = np.full(1440, 100.0, np.float32)
    old[0] = np.nan
    new = old.copy()
    new[10:30] += np.arange(1, 21)
    new[0], new[1] = 5.0, np.nan
    (item,) = (
        d
        for d in compare_specs(with_data(spec, "ghi", old), with_data(spec, "ghi", new)).differences
        if d.name == "ghi"
    )
    assert (item.samples, item.lost, item.gained, item.units) == (1440, 1, 1, "W m-2")
    assert item.share_changed == pytest.approx(22 / 1440)
    assert item.mean == pytest.approx(210 / 1438)
    assert item.largest == 20
    assert item.percentile_95 == 0  # of all samples; only 20 of 1,438 moved
    short = [with_data(spec, "ghi", a)["ghi"].data[10:30] for a in (old, new)]
    tiny = [FileSpec({}, {"time": 20}, (cut(spec["time"]), replace(spec["ghi"], data=s)))
            for s in short]  # fmt: skip
    (item,) = compare_specs(*tiny).differences
    assert item.percentile_95 == pytest.approx(19.05)


def cut(variable: object) -> object:
    """The first twenty values of a series."""
    return replace(variable, data=variable.data[:20])  # type: ignore[type-var,attr-defined]


def test_flags_tables_series_and_labels_on_one_side() -> None:
    first, second = minute_file(days=2), minute_file(days=3, rows=3)
    words = second["ghi_flags"].data.copy()
    words[:144] ^= 2
    second = with_data(second, "ghi_flags", words)
    second = replace(second, variables=tuple(v for v in second.variables if v.name != "lwd_std"))
    comparison = compare_specs(first, second, "x.nc")
    assert not comparison.same
    assert (comparison.labels_only_first, comparison.labels_only_second) == (0, 1440)
    assert comparison.only_first == ("lwd_std",)
    assert comparison.tables == ("metadata/deployment",)
    lines = "\n".join(comparison_lines(comparison))
    assert "ghi_flags: 5.000% of 2880 samples changed" in lines
    assert "1440 times only in the second" in lines


def test_repeated_labels_are_paired_in_their_order() -> None:
    """A clock set back repeats labels; the n-th reading of a label is compared with the n-th."""
    spec = voltage_file()
    data = spec["global_1"].data.copy()
    data[400] += 0.5  # a second reading of its label
    comparison = compare_specs(spec, with_data(spec, "global_1", data))
    changed = {d.name: d for d in comparison.differences if d.share_changed}
    assert list(changed) == ["global_1"]
    assert changed["global_1"].largest == pytest.approx(0.5)
    assert changed["global_1"].samples == 5000


def test_other_products_cannot_be_compared() -> None:
    with pytest.raises(ArchiveError, match="not the same product"):
        compare_specs(voltage_file(), minute_file())


def test_archives_are_paired_by_place(tmp_path: Path) -> None:
    first = small_archive(tmp_path / "a")
    second = small_archive(tmp_path / "b")
    assert all(c.same for c in compare(first, second))
    (second / "ossel" / "monthly" / "ossel_monthly_2031.nc").unlink()
    lines = [comparison_lines(c) for c in compare(first, second)]
    assert ["ossel/monthly/ossel_monthly_2031.nc: missing in the second"] in lines
    old = first / "ossel" / "minute" / "superseded" / "ossel_minute_2031-03_v1.nc"
    new = first / "ossel" / "minute" / "ossel_minute_2031-03.nc"
    (pair,) = compare(old, new)
    assert [d.name for d in pair.differences if d.share_changed] == ["ghi"]
    assert "product_version" in pair.attributes
    for wrong, why in ((tmp_path / "c", "no such file"), (first, "another of its kind")):
        with pytest.raises(ArchiveError, match=why):
            compare(new, wrong)


def test_size_of_change_of_a_scaled_series() -> None:
    spec = minute_file()
    sizes = size_of_change(spec, scaled(spec, ("ghi", "ghi_std", "ghi_uncertainty"), 1.25))
    assert list(sizes) == ["ghi", "ghi_uncertainty"]
    assert sizes["ghi"]["mean"] == pytest.approx(0.25 * float(np.nanmean(spec["ghi"].data)))
