"""Splits of uncertainties from amounts by source, and amounts by source from splits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

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


@dataclass(frozen=True)
class Parts:
    """Amounts of error by source, of those that stay and those of a day, and of what is new."""

    common: Mapping[str, np.ndarray]
    day: Mapping[str, np.ndarray]
    sample: np.ndarray


def parts_of_split(split: Split) -> Parts:
    """Every source with its whole amount of every minute."""

    def whole(word: str) -> dict[str, np.ndarray]:
        return {
            key.removeprefix(f"{word} "): np.broadcast_to(
                np.asarray(sum(f * split.amounts[name] for name, f in factors.items())),
                split.known.shape,
            )
            for key, factors in split.sources.items()
            if key.startswith(f"{word} ")
        }

    sample = np.broadcast_to(np.sqrt(split.squares), split.known.shape)
    return Parts(whole(COMMON), whole(DAILY), sample)
