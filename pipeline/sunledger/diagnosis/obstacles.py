"""Shadows that return at the same position of the sun, and the skyline that they suggest."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.grouped import distinct
from sunledger.diagnosis.selection import Components
from sunledger.diagnosis.subject import Size, Subject, finding_about, severity_of
from sunledger.physics.special import special

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Numbers = npt.NDArray[np.int64]

CELL = (3.0, 1.0)
"""Width of a cell in azimuth and in elevation. [degree]"""
LOWEST = 3.0
"""Least elevation looked at: below, a clear sky is not known well enough. [degree]"""
DARK, BRIGHT = 0.3, 0.6
"""Share of a clear sky's direct below which there is a shadow, above which there is sun. [1]"""
WITNESS = 3600
"""Sun must shine this near to a minute for it to tell of obstacles. [s]"""
LEAST_DAYS = 5
_ROWS = 128
"""More than there are cells above each other, to number them all."""
BY_CHANCE = 0.02
"""Shadows that clouds may make up, in a month."""
SHADED = 0.8
"""Share of days from which a cell is shaded."""


@dataclass(frozen=True)
class SunPath:
    """
    Cells of the sky that the sun passed.

    Parameters
    ----------
    azimuth, elevation : numpy.ndarray, shape (cell,)
        Lower corner of each. [degree]
    days : numpy.ndarray of int64, shape (cell,)
        Days that tell of it.
    shaded : numpy.ndarray, shape (cell,)
        Share of those days on which the direct was dark there. [1]
    lost : numpy.ndarray, shape (cell,)
        Direct that a clear sky would have given there less what was measured, summed. [W m-2]
    """

    azimuth: Array
    elevation: Array
    days: npt.NDArray[np.int64]
    shaded: Array
    lost: Array

    @cached_property
    def returning(self) -> Mask:
        """
        Cells in shadow day after day.

        Returns
        -------
        returning : numpy.ndarray of bool, shape (cell,)
            With enough days, and not to be expected of clouds: by the binomial law with the share
            of all cells, allowing for their number.
        """
        usual = float(self.shaded @ self.days) / max(float(self.days.sum()), 1.0)
        # clouds too come back by chance: the more cells, the rarer a chance one has to be
        chance = special.bdtrc(np.round(self.shaded * self.days) - 1, self.days, usual)
        often = (self.days >= LEAST_DAYS) & (self.shaded >= SHADED)
        return np.asarray(often & (chance * self.days.size < BY_CHANCE))


def sun_path(parts: Components) -> SunPath:
    """
    Map of shadows over the sun's positions.

    Parameters
    ----------
    parts : Components
        One month or several.

    Returns
    -------
    path : SunPath
        Only minutes count that have sun within an hour: under a cloudy sky shadows tell nothing.
    """
    sun = parts.sun
    elevation = 90.0 - sun.zenith
    up = (elevation > LOWEST) & np.isfinite(parts.dni) & parts.usable
    clear = parts.clear_sky[0]
    share = np.where(up, parts.dni / np.maximum(clear, 20.0), 0.0)
    at = np.flatnonzero(up & _witnessed(parts, share))
    column, row = (
        np.floor(v[at] / w).astype(np.int64)
        for v, w in zip((sun.azimuth, elevation), CELL, strict=True)
    )
    return _cells(_ROWS * column + row, parts.day[at], share[at], (clear - parts.dni)[at])


def _witnessed(parts: Components, share: Array) -> Mask:
    """Whether steady sun shines within the hour before or after."""
    half = WITNESS // parts.interval
    sunny = np.concatenate([[0], np.cumsum(share > BRIGHT)])
    at = np.arange(share.size)
    after = sunny[np.minimum(at + half, share.size)] - sunny[at]
    before = sunny[at] - sunny[np.maximum(at - half, 0)]
    return np.asarray(np.maximum(after, before) > half // 3)


def _cells(cell: Numbers, day: Numbers, share: Array, lost: Array) -> SunPath:
    # by cell, then by day: minutes of both together keep their order of time
    first = int(day.min()) if day.size else 0
    span = int(day.max(initial=0)) - first + 1
    order = np.argsort(key := cell * span + day - first, kind="stable")
    days, place, minutes = distinct(key[order])
    dark = np.bincount(place, share[order] < DARK, days.size) / minutes
    gone = np.bincount(place, np.maximum(lost[order], 0.0), days.size)
    cells, where, count = distinct(days // span)
    return SunPath(
        (cells // _ROWS) * CELL[0],
        (cells % _ROWS) * CELL[1],
        count,
        np.bincount(where, dark > 0.5) / count,
        np.asarray(np.bincount(where, gone), dtype=float),
    )


def suggested_skyline(path: SunPath) -> tuple[tuple[float, float], ...]:
    """
    Horizon profile that the shadows suggest.

    Parameters
    ----------
    path : SunPath
        Of as many months as there are.

    Returns
    -------
    skyline : tuple of (float, float)
        Azimuth in the middle of each column of cells, and the upper edge of its highest shadow that
        reaches down unbroken; columns never in shadow are left out. [degree]
    """
    corners = []
    for azimuth in np.unique(path.azimuth):
        column = np.flatnonzero((path.azimuth == azimuth) & (path.days >= LEAST_DAYS))
        column = column[np.argsort(path.elevation[column])]
        lit = np.flatnonzero(path.shaded[column] < SHADED)
        unbroken = column if lit.size == 0 else column[: lit[0]]
        if path.returning[unbroken].any() and unbroken.size < column.size:
            top = float(path.elevation[unbroken[-1]]) + CELL[1]
            corners.append((float(azimuth) + CELL[0] / 2, top))
    return tuple(corners)


def returning_shadows(
    subject: Subject, path: SunPath, known: Mask, minutes: int
) -> tuple[Finding, ...]:
    """
    Findings of shadows that the station's horizon profile does not explain.

    Parameters
    ----------
    subject : Subject
        Whose.
    path : SunPath
        Of the month.
    known : numpy.ndarray of bool, shape (cell,)
        Cells below the profile in the station's file.
    minutes : int
        Of the whole month.

    Returns
    -------
    findings : tuple of Finding
        One a connected range of azimuth.
    """
    new = path.returning & ~known
    azimuths = np.unique(path.azimuth[new])
    if not azimuths.size:
        return ()
    groups = np.split(azimuths, np.flatnonzero(np.diff(azimuths) > 1.5 * CELL[0]) + 1)
    found = []
    for group in groups:
        here = new & np.isin(path.azimuth, group)
        first, last = float(group[0]), float(group[-1]) + CELL[0]
        top = float(path.elevation[here].max()) + CELL[1]
        effect = -float(path.lost[here].sum()) / minutes
        found.append(
            finding_about(
                subject,
                "returning_shadow",
                f"azimuth {first:.0f} to {last:.0f}",
                Size(top, CELL[1], "degree"),
                f"look from the instruments toward {first:.0f} to {last:.0f}°, up to {top:.0f}°"
                " (never at the sun): remove the obstacle or enter it in the horizon profile",
                evidence={
                    "azimuth_from": first,
                    "azimuth_to": last,
                    "least_days": int(path.days[here].min()),
                    "cells": int(here.sum()),
                },
                effect=effect,
                severity=severity_of(effect),
            )
        )
    return tuple(found)


def below_profile(path: SunPath, profile: tuple[tuple[float, float], ...]) -> Mask:
    """
    Cells that a horizon profile hides.

    Parameters
    ----------
    path : SunPath
        Cells.
    profile : tuple of (float, float)
        Azimuth and elevation of the skyline; empty for a flat horizon. [degree]

    Returns
    -------
    below : numpy.ndarray of bool, shape (cell,)
        Whose lower edge lies below the skyline, half a degree of the sun's disc allowed.
    """
    if not profile:
        return np.zeros(path.azimuth.size, dtype=bool)
    corners = np.array(profile)
    middle = path.azimuth + CELL[0] / 2
    skyline = np.interp(middle, corners[:, 0], corners[:, 1], period=360.0)
    return np.asarray(path.elevation < skyline + 0.5)
