r"""Which instrument moved: the pair of clear and dull (overcast) ratio tells.

The logarithm of global over component sum answers to small relative errors :math:`g, d, b` of
global, diffuse and direct with :math:`g - f d - (1 - f) b`, where :math:`f` is the diffuse share of
the sum. A clear sky (small :math:`f`) and a dull one (:math:`f` near 1) give two equations for
three unknowns: one error at a time can be named, two at once cannot.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.mean_of_days import DayMean, mean_of_days
from sunledger.diagnosis.ratios import Ratios, day_values, usual_by_bin
from sunledger.physics.special import special

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

COMPONENTS = ("ghi", "dhi", "dni")
LEAST_CLEAR = (1000, 3)
"""Clear steady minutes and days with them that each side needs."""
LEAST_DULL = (6, 3)
"""Dull hours and days with them; with fewer the dull ratio is unknown."""
FULL_DULL = 4
"""Dull hours from which on a day counts fully."""
FLOOR_CLEAR, FLOOR_DULL = 0.0012, 0.0025
"""Standard deviation that no number of days takes away: temperature, zero offsets. [1]"""
ALARM = 0.997
"""Confidence that a change must have before anything is said."""
CONFIDENCE = 0.95
CLEARLY_WORSE = 5.0
"""How much worse, in squared standard deviations, another cause must fit to be ruled out."""
A_SIZE_COSTS = 2.0
"""What a cause must explain more for a size that is fitted, in squared standard deviations:
Akaike's criterion."""


@dataclass(frozen=True)
class Pair:
    """
    Clear and dull ratio, or their changes.

    Parameters
    ----------
    value : numpy.ndarray, shape (2,)
        Logarithms: clear, dull; NaN where unknown. [1]
    variance : numpy.ndarray, shape (2, 2)
        Their covariance.
    share : numpy.ndarray, shape (2,)
        Diffuse share under either sky. [1]
    minutes, days : int
        Clear minutes and days of the poorer side.
    freedom : float
        Degrees of freedom.
    """

    value: Array
    variance: Array
    share: Array
    minutes: int
    days: int
    freedom: float

    @property
    def enough(self) -> bool:
        """
        Whether there is enough evidence.

        Returns
        -------
        enough : bool
            By ``LEAST_CLEAR``.
        """
        return self.minutes >= LEAST_CLEAR[0] and self.days >= LEAST_CLEAR[1]

    @property
    def dull_known(self) -> bool:
        """
        Whether the dull ratio is known.

        Returns
        -------
        known : bool
            Without it nothing can be laid to one instrument.
        """
        return bool(np.isfinite(self.value[1]))


@dataclass(frozen=True)
class Cause:
    """
    One way in which the pair can have come about.

    Parameters
    ----------
    name : str
        Such as ``ghi`` or ``swapped ghi dhi``.
    errors : mapping
        Component → relative error (as a logarithm); of a free cause, its direction.
    free : bool
        Whether its size is to be fitted.
    """

    name: str
    errors: Mapping[str, float]
    free: bool = True


SINGLE = tuple(Cause(name, {name: 1.0}) for name in COMPONENTS)
"""One instrument alone, by any amount."""


@dataclass(frozen=True)
class Verdict:
    """
    What the pair says.

    Parameters
    ----------
    changed : bool
        Whether the pair differs from none with the confidence asked.
    cause : str
        Name of the cause; empty where nothing changed or causes cannot be told apart.
    candidates : tuple of str
        Causes that agree with the data, the best first; empty where none does, as with two faults.
    size, half_width : float
        Of the best cause and its 95 % interval, as logarithms. [1]
    misfit : float
        Squared standard deviations that the best cause leaves.
    """

    changed: bool
    cause: str
    candidates: tuple[str, ...]
    size: float
    half_width: float
    misfit: float


def pair_of(clear: DayMean, dull: DayMean, share: Array) -> Pair:
    """
    Pair of two means.

    Parameters
    ----------
    clear, dull : DayMean
        Mean logarithms.
    share : numpy.ndarray, shape (2,)
        Diffuse shares.

    Returns
    -------
    pair : Pair
        The dull ratio is unknown with too few hours.
    """
    known = dull.minutes >= LEAST_DULL[0] and dull.days >= LEAST_DULL[1]
    value = np.array([clear.value, dull.value if known else np.nan])
    floors = FLOOR_CLEAR**2, FLOOR_DULL**2
    means = (clear, dull)
    spread = [m.variance + floor for m, floor in zip(means, floors, strict=True)]
    # the floor is stated, not estimated: it takes no degree of freedom (Welch-Satterthwaite)
    freedom = [
        max(m.freedom, 1.0) * (v / m.variance) ** 2 if 0 < m.variance < np.inf else 1.0
        for m, v in zip(means, spread, strict=True)
    ]
    least = min(freedom) if known else freedom[0]
    return Pair(value, np.diag(spread), share, clear.minutes, clear.days, min(least, 1e6))


def pair_of_month(clear: Ratios, dull: Ratios) -> Pair:
    """
    Clear and dull ratio of one stretch.

    Parameters
    ----------
    clear, dull : Ratios
        From :func:`sunledger.diagnosis.ratios.sky_ratios`.

    Returns
    -------
    pair : Pair
        With the scatter between days.
    """
    a, b = day_values(clear), day_values(dull, None, 1)
    means = mean_of_days(a.value, a.minutes), mean_of_days(b.value, b.minutes, FULL_DULL)
    return pair_of(*means, np.array([a.share, b.share]))


def change_between(before: tuple[Ratios, Ratios], after: tuple[Ratios, Ratios]) -> Pair:
    """
    Change of both ratios, the clear one at the same positions of the sun.

    Parameters
    ----------
    before, after : tuple of Ratios
        Clear minutes and dull hours of either stretch.

    Returns
    -------
    pair : Pair
        After less before.
    """
    usual = usual_by_bin(before[0])
    old, new = day_values(before[0], usual), day_values(after[0], usual)
    clear = _difference(mean_of_days(old.value, old.minutes), mean_of_days(new.value, new.minutes))
    # under a dull sky the sun's position hardly matters
    a, b = (day_values(side, None, 1) for side in (before[1], after[1]))
    dull = _difference(*(mean_of_days(v.value, v.minutes, FULL_DULL) for v in (a, b)))
    return pair_of(clear, dull, np.array([new.share, b.share]))


def _difference(first: DayMean, second: DayMean) -> DayMean:
    variance = first.variance + second.variance
    freedom = 1.0
    if 0 < variance < np.inf:
        parts = ((m.variance, max(m.freedom, 1.0)) for m in (first, second))
        freedom = variance**2 / max(sum(v**2 / n for v, n in parts), 1e-300)
    return DayMean(
        second.value - first.value,
        variance,
        min(first.minutes, second.minutes),
        min(first.days, second.days),
        freedom,
    )


def with_calibrations(pair: Pair, uncertainty: Mapping[str, float], other: float = 0.0) -> Pair:
    """
    The same pair, judged against certificates instead of against an earlier stretch.

    Parameters
    ----------
    pair : Pair
        From :func:`pair_of_month`.
    uncertainty : mapping
        Component → standard uncertainty of its calibration. [1]
    other : float
        Standard uncertainty of the clear ratio by what certificates leave out, such as directional
        response. [1]

    Returns
    -------
    pair : Pair
        With the covariance that the certificates bring: an error of one bears on both ratios.
    """
    variance = pair.variance + np.diag([other**2, 0.0])
    for name in COMPONENTS:
        answer = _answer(Cause(name, {name: 1.0}), pair.share)
        variance = variance + uncertainty[name] ** 2 * np.outer(answer, answer)
    return replace(pair, variance=variance)


def _answer(cause: Cause, share: Array) -> Array:
    """What both ratios show of a cause of size one; the shares are those measured under it."""
    g, d, b = (cause.errors.get(name, 0.0) for name in COMPONENTS)
    if cause.free:
        return np.asarray(g - share * d - (1.0 - share) * b)
    # a mix-up can be far from small: the same without leaving out higher orders
    return np.asarray(g + np.log(share * np.exp(-d) + (1.0 - share) * np.exp(-b)))


def judge(pair: Pair, causes: Sequence[Cause] = SINGLE, least: float = 0.0) -> Verdict:
    """
    Say which of some causes the pair speaks for.

    Parameters
    ----------
    pair : Pair
        Ratios or their changes.
    causes : sequence of Cause
        Candidates.
    least : float
        Changes with a smaller best size are no matter. [1]

    Returns
    -------
    verdict : Verdict
        One cause is named only where it agrees and all others fit clearly worse.
    """
    known = np.isfinite(pair.value) & np.isfinite(np.diag(pair.variance))
    if not known.any():
        return Verdict(False, "", (), float("nan"), float("inf"), float("nan"))
    value = pair.value[known]
    precision: Array = np.asarray(np.linalg.inv(pair.variance[np.ix_(known, known)]), dtype=float)
    count = value.size
    none = float(value @ precision @ value)
    limit = count * float(special.fdtri(count, max(pair.freedom, count), ALARM))
    fits = sorted((_fit(cause, pair, known, precision) for cause in causes), key=_price)
    misfit, best, size, half = fits[0]
    changed = none > limit and float(np.max(np.abs(value))) > least
    if not changed:
        return Verdict(False, "", (), size, half, misfit)
    near = _price(fits[0]) + CLEARLY_WORSE
    candidates = tuple(
        f[1].name for f in fits if _price(f) < near and f[0] < _agreement(f[1], count, pair)
    )
    alone = len(candidates) == 1 and pair.dull_known
    return Verdict(True, best.name if alone else "", candidates, size, half, misfit)


def _price(fit: tuple[float, Cause, float, float]) -> float:
    """A free size can meet anything: it has to explain more than one that is foretold."""
    return fit[0] + A_SIZE_COSTS * fit[1].free


def _agreement(cause: Cause, count: int, pair: Pair) -> float:
    """Largest misfit of a cause that is true."""
    left = count - cause.free
    if left == 0:
        return float("inf")
    return left * float(special.fdtri(left, max(pair.freedom, 1.0), ALARM))


def _fit(
    cause: Cause, pair: Pair, known: Mask, precision: Array
) -> tuple[float, Cause, float, float]:
    """Misfit of a cause, the cause, its size and half its interval."""
    answer, value = _answer(cause, pair.share)[known], pair.value[known]
    if not cause.free:
        left = value - answer
        return float(left @ precision @ left), cause, 1.0, 0.0
    strength = float(answer @ precision @ answer)
    size = float(answer @ precision @ value) / strength
    left = value - size * answer
    quantile = float(special.stdtrit(max(pair.freedom, 1.0), 0.5 + CONFIDENCE / 2))
    return float(left @ precision @ left), cause, size, quantile / np.sqrt(strength)
