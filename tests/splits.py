"""Splits of uncertainties from amounts by source."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from sunledger.stages.error_split import COMMON, DAILY, Split


def split_of(
    common: Mapping[str, np.ndarray], day: Mapping[str, np.ndarray], sample: np.ndarray
) -> Split:
    """Every source by an amount of its own; the uncertainty of every minute is known."""
    amounts = {f"{COMMON} {name}": amount for name, amount in common.items()}
    amounts |= {f"{DAILY} {name}": amount for name, amount in day.items()}
    sources = {key: {key: 1.0} for key in amounts}
    return Split(amounts, sources, np.square(sample), np.ones(np.shape(sample), bool))
