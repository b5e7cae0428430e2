"""Monthly means of a station from its monthly files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from sunledger.archive.netcdf import read_file
from sunledger.vocabulary import QUANTITIES

Means = dict[str, dict[str, tuple[float, float]]]
"""Quantity → month → mean and expanded uncertainty, NaN where there is none."""


def monthly_means(paths: Sequence[Path]) -> Means:
    """
    Monthly means with their uncertainty.

    Parameters
    ----------
    paths : sequence of Path
        Monthly files of a station, one a year.

    Returns
    -------
    means : dict
        Quantity → month → mean and expanded uncertainty; withheld months are left out.
    """
    means: Means = {}
    for path in paths:
        held = {v.name: v.data for v in read_file(path).variables}
        labels = [str(t) for t in held["time"].astype("datetime64[s]").astype("datetime64[M]")]
        for q in (q for q in QUANTITIES if q in held):
            wide = held.get(f"{q}_uncertainty", np.full(len(labels), np.nan))
            for label, value, error in zip(labels, held[q], wide, strict=True):
                if np.isfinite(value):
                    means.setdefault(q, {})[label] = (float(value), float(error))
    return means
