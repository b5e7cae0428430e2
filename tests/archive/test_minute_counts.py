"""Counts of minutes, values and grades and daily means, counted by hand and by pandas."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from archive.samples import minute_file
from sunledger.archive.minute_counts import minute_counts
from sunledger.archive.specification import FileSpec
from sunledger.vocabulary import GRADES


def changed(spec: FileSpec, name: str, place: slice, value: float) -> FileSpec:
    """The same file with some of a series replaced."""
    variables = []
    for v in spec.variables:
        if v.name == name:
            data = v.data.copy()
            data[place] = value
            v = replace(v, data=data)
        variables.append(v)
    return replace(spec, variables=tuple(variables))


def test_counts_and_means_of_days() -> None:
    spec = changed(minute_file(days=2), "ghi", slice(100, 110), np.nan)
    spec = changed(spec, "ghi_grade", slice(100, 110), GRADES["missing"])
    spec = changed(spec, "ghi_grade", slice(1500, 1520), GRADES["bad"])
    counts = minute_counts(spec)
    values = pd.Series(spec["ghi"].data.astype(float), pd.to_datetime(spec["time"].data, unit="s"))
    assert counts["minutes"] == 2880
    assert counts["present"]["ghi"] == values.count()
    assert sum(counts["grades"]["ghi"].values()) == 2880
    assert counts["grades"]["ghi"]["bad"] == 20
    used = values.mask(spec["ghi_grade"].data == GRADES["bad"])
    means = used.resample("1D").mean().round(1)
    assert counts["daily_means"]["ghi"] == means.tolist()


def test_day_with_a_tenth_missing_has_no_mean() -> None:
    spec = minute_file(days=2)
    assert minute_counts(changed(spec, "ghi", slice(1440, 1584), np.nan))["daily_means"]["ghi"][1]
    gone = minute_counts(changed(spec, "ghi", slice(1440, 1585), np.nan))
    assert gone["daily_means"]["ghi"][1] is None


def test_file_without_minutes() -> None:
    spec = minute_file(days=2)
    none = tuple(replace(v, data=v.data[:0]) if v.dimensions else v for v in spec.variables)
    counts = minute_counts(replace(spec, variables=none))
    assert counts["minutes"] == 0
    assert counts["daily_means"]["ghi"] == []
