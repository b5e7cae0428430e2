"""Which instants of a step are worth an exact fit: all are judged at once, within rounding."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.closure_equations import NOISE, Equations
from sunledger.diagnosis.closure_fit import Moments, constant_design, equations

Array = npt.NDArray[np.float64]

ROUNDING = 1e-6
"""Share of the explained sum of squares by which two instants have to differ to be told apart here:
a hundred times what is rounded off while equations are as well conditioned as below."""
WORST_CONDITION, LEAST_LEFT = 1e7, 1e-3
"""Condition of the equations of the constants, and share of a change that these must leave it:
where one is worse, no instant is left out."""


def worth_a_fit(moments: Moments, pieces: Sequence[int], which: tuple[int, ...]) -> list[int]:
    """
    Leave out instants that surely explain less than the best.

    Parameters
    ----------
    moments : Moments
        Of the stretch.
    pieces : sequence of int
        First pieces behind the steps that are tried.
    which : tuple of int
        Coefficients that step.

    Returns
    -------
    pieces : list of int
        The best and all that are as good within rounding; all where rounding could be more.
    """
    if len(pieces) < 3:
        return list(pieces)
    constant = equations(moments, constant_design(moments))
    whole = constant.matrix.sum(axis=0)
    scale = np.sqrt(np.maximum(np.diag(whole), 1e-300))
    if not np.linalg.cond(whole / np.outer(scale, scale)) < WORST_CONDITION:
        return list(pieces)
    cross, square, right = (part[list(pieces)] for part in _changes(constant, moments, which))
    known = constant.inverse
    left = square - cross.transpose(0, 2, 1) @ known @ cross
    misses = right - cross.transpose(0, 2, 1) @ constant.value
    sizes = np.trace(square, axis1=1, axis2=2) / len(which)
    sure = np.linalg.eigvalsh(left)[:, 0] > LEAST_LEFT * sizes
    gain = np.full(len(pieces), np.inf)
    solved = np.linalg.solve(left[sure], misses[sure][:, :, None])[:, :, 0]
    gain[sure] = (misses[sure] * solved).sum(axis=1)
    best = gain[sure].max(initial=0.0)
    limit = best - ROUNDING * (best - constant.misfit)
    return [k for k, much in zip(pieces, gain.tolist(), strict=True) if not much < limit]


def _changes(
    constant: Equations, moments: Moments, which: tuple[int, ...]
) -> tuple[Array, Array, Array]:
    """
    Equations of a change behind each piece, the days' own terms eliminated.

    With the constants (shape (piece, constant, change)), with itself (piece, change, change), and
    with the response (piece, change).
    """
    terms, design = constant.terms, constant.design
    columns = terms.matrix[:, :3, which]
    vector = moments.vector / NOISE
    told = terms.by_day((terms.matrix @ design)[:, :3])
    of_day = terms.by_day(columns)
    missed = terms.by_day(vector[:, :3])
    # a day that the change parts counts with the pieces behind it, days behind it whole
    parted = _behind(columns)[:-1] - _behind(of_day)[1:][moments.day]
    others = [own.transpose(0, 2, 1) @ terms.own for own in (told, of_day)]
    behind = parted.transpose(0, 2, 1) @ terms.own[moments.day]
    across = others[0][moments.day] @ parted
    cross = _behind(design.transpose(0, 2, 1) @ columns)[:-1]
    cross = cross - _behind(others[0] @ of_day)[1:][moments.day] - across
    square = _behind(columns[:, which])[:-1]
    square = square - _behind(others[1] @ of_day)[1:][moments.day] - behind @ parted
    right = _behind(vector[:, which])[:-1]
    right = right - _behind((others[1] @ missed[:, :, None])[:, :, 0])[1:][moments.day]
    right = right - (behind @ missed[moments.day][:, :, None])[:, :, 0]
    return cross, square, right


def _behind(values: Array) -> Array:
    """Sums from each row to the last, and 0 behind that."""
    sums = np.zeros((len(values) + 1, *values.shape[1:]))
    sums[:-1] = np.cumsum(values[::-1], axis=0)[::-1]
    return sums
