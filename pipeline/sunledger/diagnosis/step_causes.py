"""Which single cause explains a change: a lean, a clock, or the sensitivity of one radiometer.

A lean has two sizes, every other cause one. What two causes would explain together is no single
cause; what two single causes explain alike is not told apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.closure_fit import EAST, NORTH, RESPONSIVITY
from sunledger.diagnosis.separation import A_SIZE_COSTS, CLEARLY_WORSE
from sunledger.diagnosis.step_evidence import DULL, StepEvidence
from sunledger.physics.special import special

Array = npt.NDArray[np.float64]

LEAN, CLOCK = "lean", "clock"
SENSITIVITIES = ("ghi", "dhi", "dni")
CHANCE, CHANCE_OF_ONE = 0.005, 0.001
"""Chance of so strong an evidence at a given instant where nothing changed, if all variances were
known: of all numbers together, and of what one cause that agrees explains of them. A month has some
twenty instants to look at; the floors make good for them: of 310 clean months, none of them among
those that benchmarks score, the strongest had 10.6 of the 14.9 asked for together, and 3.9 of the
10.8 for a sensitivity."""
CLOCK_WORSE = 2.5
"""How much worse a clock must fit than a lean to be ruled out, in squared standard deviations and
with what sizes cost. It is the lean without its north part, whose variance holds stated bounds and
is wide: of 199 generated months with an error of the clock and scatter from day to day, none of
them among those that benchmarks score, and of 20 made of the published one, none showed as much."""
AGREES = 0.997
"""Confidence at which a cause is given up since it does not fit."""


@dataclass(frozen=True)
class Explanation:
    """
    A cause fitted to the evidence.

    Parameters
    ----------
    cause : str
        ``lean``, ``clock``, or the component whose sensitivity changed.
    size, half_width : numpy.ndarray, shape (parameter,)
        With half the interval of 95 %: lean to east and north [rad]; clock as lean to east [rad];
        relative change of a sensitivity [1].
    misfit : float
        Squared standard deviations that it leaves.
    agrees : bool
        Whether that is no more than chance leaves.
    """

    cause: str
    size: Array
    half_width: Array
    misfit: float
    agrees: bool

    @property
    def price(self) -> float:
        """
        What it leaves, with what its sizes cost.

        Returns
        -------
        price : float
            Comparable between causes.
        """
        return self.misfit + A_SIZE_COSTS * self.size.size


def signature(cause: str, evidence: StepEvidence) -> Array:
    """
    What a cause of unit size looks like.

    Parameters
    ----------
    cause : str
        See :class:`Explanation`.
    evidence : StepEvidence
        Gives what the diffuse looks like, and its share under a dull sky.

    Returns
    -------
    columns : numpy.ndarray, shape (4, parameter)
        In the order of the evidence. An error of the direct changes the component sum by its
        cosine, one of the global both parts, one of the diffuse its own part.
    """
    share = evidence.share if np.isfinite(evidence.share) else 1.0
    one = np.eye(4)
    of_diffuse = np.append(evidence.diffuse, 0.0)
    columns: dict[str, Array] = {
        LEAN: one[:, [EAST, NORTH]],
        CLOCK: one[:, [EAST]],
        "ghi": (one[RESPONSIVITY] + of_diffuse + one[DULL])[:, None],
        "dhi": (-of_diffuse - share * one[DULL])[:, None],
        "dni": (-one[RESPONSIVITY] - (1.0 - share) * one[DULL])[:, None],
    }
    return columns[cause]


def explained(cause: str, evidence: StepEvidence) -> Explanation:
    """
    Fit one cause.

    Parameters
    ----------
    cause : str
        See :class:`Explanation`.
    evidence : StepEvidence
        What changed.

    Returns
    -------
    explanation : Explanation
        By least squares weighted with the covariance of the evidence.
    """
    at = evidence.known
    columns, value = signature(cause, evidence)[at], evidence.value[at]
    precision = np.linalg.inv(evidence.variance[np.ix_(at, at)])
    spread = np.linalg.pinv(columns.T @ precision @ columns, hermitian=True)
    size = spread @ columns.T @ precision @ value
    left = value - columns @ size
    misfit = float(left @ precision @ left)
    half = special.ndtri(0.975) * np.sqrt(np.maximum(np.diag(spread), 0.0))
    allowed = float(special.chdtri(max(int(at.sum()) - size.size, 1), 1.0 - AGREES))
    return Explanation(cause, size, np.asarray(half), misfit, misfit <= allowed)


def is_change(evidence: StepEvidence) -> bool:
    """
    Whether anything changed at all.

    Parameters
    ----------
    evidence : StepEvidence
        At the instant where it is strongest.

    Returns
    -------
    changed : bool
        With a chance of less than ``CHANCE`` by nothing, or of less than ``CHANCE_OF_ONE`` for what
        a cause that agrees explains: an error of the diffuse shows in one number alone.
    """
    strength = evidence.strength
    if special.chdtrc(int(evidence.known.sum()), strength) < CHANCE:
        return True
    tried = (explained(cause, evidence) for cause in (LEAN, *SENSITIVITIES))
    explains = ((max(strength - e.misfit, 0.0), e.size.size) for e in tried if e.agrees)
    return any(special.chdtrc(count, much) < CHANCE_OF_ONE for much, count in explains)


def possible(evidence: StepEvidence, ruled_out: Sequence[str] = ()) -> tuple[Explanation, ...]:
    """
    Single causes that explain a change, and that no other explains clearly better.

    Parameters
    ----------
    evidence : StepEvidence
        What changed.
    ruled_out : sequence of str
        Causes that the record excludes.

    Returns
    -------
    explanations : tuple of Explanation
        The best first; empty where no single cause agrees.
    """
    causes = (c for c in (LEAN, CLOCK, *SENSITIVITIES) if c not in ruled_out)
    tried = sorted((explained(c, evidence) for c in causes), key=lambda e: e.price)
    agreeing = [e for e in tried if e.agrees]
    return tuple(e for e in agreeing if e.price < agreeing[0].price + _margin(agreeing[0], e))


def _margin(best: Explanation, other: Explanation) -> float:
    """How much worse the other may fit and still be possible."""
    return CLOCK_WORSE if (best.cause, other.cause) == (LEAN, CLOCK) else CLEARLY_WORSE
