"""Errors of minutes by their source: few amounts over time, by which many sources go."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.physics.segments import Selection

Array = npt.NDArray[np.float64]
Floats = npt.NDArray[np.floating]
Mask = npt.NDArray[np.bool_]
Amount = Floats | float
Factors = Mapping[str, float]

COMMON, DAILY = "uncertainty_common", "uncertainty_day"
"""How long an error stays, first word of the key of its source: for good, or for a day."""
UNKNOWN = "unknown"
"""Source of all that nothing is known of."""


@dataclass(frozen=True)
class Split:
    """
    What of the uncertainty of minutes comes from where; expanded, k = 2, like the whole.

    Parameters
    ----------
    amounts : dict of numpy.ndarray, shape (time,), or float
        Name → amount of an error by minutes, with its sign. The name is the key of the one source
        that brings it, or one of its own where several sources go by it, as the calibration, the
        gain of the logger and the scale go by the signal. Never NaN: where nothing is known it is
        0. [W m-2, or what a factor makes W m-2 of]
    sources : dict of dict of float
        ``<how long> <source>`` → amount → factor. Two quantities with a source of one key have
        that error in common; errors of different sources are independent.
    squares : numpy.ndarray, shape (time,), or float
        Of what is independent from minute to minute. [W2 m-4]
    known : numpy.ndarray of bool, shape (time,)
        Minutes of which the uncertainty is known.
    """

    amounts: Mapping[str, Amount]
    sources: Mapping[str, Factors]
    squares: Amount
    known: Mask

    @classmethod
    def unknown(cls, uncertainty: Floats) -> Split:
        """
        All of an uncertainty as one error that stays, the careful side.

        Parameters
        ----------
        uncertainty : numpy.ndarray, shape (time,)
            NaN where it is not known.

        Returns
        -------
        split : Split
            Of one source.
        """
        key, known = f"{COMMON} {UNKNOWN}", np.isfinite(uncertainty)
        return cls({key: Selection(known).blanked(uncertainty)}, {key: {key: 1.0}}, 0.0, known)

    def square(self) -> Amount:
        """
        Square of the uncertainty of every minute.

        Returns
        -------
        square : numpy.ndarray, shape (time,), or float
            All sources and what is independent. [W2 m-4]
        """
        total = self.squares
        weights: dict[str, float] = {}
        for factors in self.sources.values():
            if len(factors) > 1:
                total = total + sum(f * self.amounts[name] for name, f in factors.items()) ** 2
                continue
            ((name, factor),) = factors.items()
            weights[name] = weights.get(name, 0.0) + factor**2
        for name, weight in weights.items():
            part = self.amounts[name] * self.amounts[name]
            part *= weight
            total = total + part
        return total

    def scaled(self, factor: Floats) -> Split:
        """
        The split of a quantity multiplied by something known.

        Parameters
        ----------
        factor : numpy.ndarray, shape (time,)
            Exactly known.

        Returns
        -------
        split : Split
            Every part multiplied.
        """
        # of one type whatever the amounts, since the product must not depend on how time was cut
        single = np.asarray(factor, np.float32)
        amounts = {name: amount * single for name, amount in self.amounts.items()}
        return Split(amounts, self.sources, self.squares * (single * single), self.known)

    def cut(self, inside: slice) -> Split:
        """
        The split of some minutes.

        Parameters
        ----------
        inside : slice
            Which.

        Returns
        -------
        split : Split
            Of those.
        """
        amounts = {name: _cut(amount, inside) for name, amount in self.amounts.items()}
        return Split(amounts, self.sources, _cut(self.squares, inside), self.known[inside])

    def plus(self, other: Split, sign: float = 1.0) -> Split:
        """
        The split of a sum or difference of two quantities.

        Parameters
        ----------
        other : Split
            Of the other quantity.
        sign : float
            1 for a sum, -1 for a difference.

        Returns
        -------
        split : Split
            What one source brings into both adds up with its sign (JCGM 100:2008, eq. 13), such as
            an instrument, a logger, its clock, a reference scale.
        """
        amounts, sources = dict(self.amounts), dict(self.sources)
        named = self._renamed(other)
        for key, factors in other.sources.items():
            mine = dict(sources.get(key, {}))
            for name, factor in factors.items():
                amount, name = other.amounts[name], named[name]
                if name in mine:  # an amount of this source alone: one array from here on
                    amounts[name] = _times(amounts[name], mine[name]) + _times(
                        amount, sign * factor
                    )
                    mine[name] = 1.0
                else:
                    amounts[name], mine[name] = amount, sign * factor
            sources[key] = mine
        squares = self.squares + other.squares
        return Split(amounts, sources, squares, self.known & other.known)

    def _renamed(self, other: Split) -> dict[str, str]:
        """Name → name in a sum for the amounts of the other; those of one source alone keep it."""
        named: dict[str, str] = {}
        for name in other.amounts:
            free = name in self.sources or name not in self.amounts
            taken = {*self.amounts, *other.amounts, *named.values()}
            named[name] = name if free else _unlike(name, taken)
        return named

    def where(self, mine: Mask, other: Split) -> Split:
        """
        The split of a quantity that is taken from two sources.

        Parameters
        ----------
        mine : numpy.ndarray of bool, shape (time,)
            Minutes taken from this one.
        other : Split
            Of what the rest is taken from.

        Returns
        -------
        split : Split
            An error that both have goes on from one to the other; what only one has is 0 elsewhere.
        """
        one, two = (_blanked(s, Selection(m)) for s, m in ((self, mine), (other, ~mine)))
        both = one.plus(two)
        known = (self.known & mine) | (other.known & ~mine)
        return Split(both.amounts, both.sources, both.squares, known)


def _unlike(name: str, taken: Collection[str]) -> str:
    while name in taken:
        name += "'"
    return name


def _cut(amount: Amount, inside: slice) -> Amount:
    return amount[inside] if isinstance(amount, np.ndarray) and amount.ndim else amount


def _times(amount: Amount, factor: float) -> Amount:
    return amount if factor == 1.0 else amount * factor


def _blanked(split: Split, there: Selection) -> Split:
    """0 where it is not asked for."""

    def blanked(amount: Any) -> Amount:
        if np.ndim(amount):
            return there.blanked(amount)
        return there.valid * np.float32(amount)

    amounts = {name: blanked(amount) for name, amount in split.amounts.items()}
    return Split(amounts, split.sources, blanked(split.squares), split.known)
