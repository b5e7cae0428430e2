"""Closure over an hour: small differences that stay, of all minutes and of the sunlit ones."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sunledger.config.models.flagging import ClosureSettings
from sunledger.physics.limits import MINIMUM_SUM
from sunledger.physics.windows import grown, rolling_any, rolling_count, rolling_median
from sunledger.stages.qc_sky import Sky
from sunledger.stages.qc_view import Minutes

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Verdict = tuple[Mask, Mask]

LOWEST_ADJOINING = 85.0
"""What is proven at higher sun is followed as far as this zenith angle. [degree]"""
ADJOINING_HALF = 3
"""Minutes on either side whose median has to show the same beside a proven hour."""


@dataclass(frozen=True)
class Hour:
    """
    Closure over the hour around each minute.

    Parameters
    ----------
    enough : numpy.ndarray of bool, shape (time,)
        Where the hour holds enough minutes to compare.
    relative : numpy.ndarray, shape (time,)
        Global less component sum over the sum, of the minute itself. [1]
    middle, absolute : numpy.ndarray, shape (time,)
        Median of it, and of the difference itself; NaN where the minute itself agrees. [1], [W m-2]
    """

    enough: Mask
    relative: Array
    middle: Array
    absolute: Array

    def far(self, settings: ClosureSettings) -> Mask:
        """
        Say where the hour disagrees.

        Parameters
        ----------
        settings : ClosureSettings
            Limits.

        Returns
        -------
        far : numpy.ndarray of bool, shape (time,)
            Where the minute itself lies on the same side.
        """
        far = np.abs(self.middle) > settings.largest_difference
        far &= np.abs(self.absolute) > settings.least_difference
        return far & (self.relative * np.sign(self.middle) > settings.largest_difference / 2)


def _hour(sky: Sky, settings: ClosureSettings, among: Mask, least: int) -> Hour:
    half, total = sky.steps(settings.window), sky.diffuse + sky.beam
    lit = sky.known & among & (total > MINIMUM_SUM) & (sky.zenith < settings.largest_zenith)
    relative = np.where(lit, sky.residual / np.where(lit, total, 1.0), np.nan)
    absolute = np.where(lit, sky.residual, np.nan)
    count = max(3, sky.steps(least))
    enough = lit & (rolling_count(lit, half) >= count)
    # most hours close: medians only of minutes that disagree themselves, and of what they show
    own = np.abs(relative) > settings.largest_difference / 2
    middle = rolling_median(relative, half, count, own)
    far = np.abs(middle) > settings.largest_difference
    return Hour(enough, relative, middle, rolling_median(absolute, half, count, far))


def _hours(minutes: Minutes) -> tuple[Hour, Hour]:
    sky, settings = minutes.whole_sky, minutes.settings.closure
    every = np.ones(sky.known.shape, bool)
    return (
        _hour(sky, settings, every, settings.least_minutes),
        _hour(sky, settings, sky.lit, settings.least_sunlit),
    )


def hours(minutes: Minutes) -> tuple[Hour, Hour]:
    """
    Closure over the hour around each minute.

    Parameters
    ----------
    minutes : Minutes
        The minutes, all three components among them.

    Returns
    -------
    every, sunlit : Hour
        Of all minutes with light, and of those only in which the beam arrives: what is wrong with
        the beam does not show behind a cloud.
    """
    both: tuple[Hour, Hour] = minutes.once("hours", _hours)
    return both


def _adjoining(sky: Sky, far: Mask, settings: ClosureSettings) -> Mask:
    """
    Minutes that show the same without a gap as those an hour has proven.

    The first half hour of a fault has more good minutes around it than bad ones.
    """
    total = sky.diffuse + sky.beam
    low = sky.known & (total > MINIMUM_SUM) & (sky.zenith < LOWEST_ADJOINING)
    share = np.where(low, sky.residual / np.where(low, total, 1.0), np.nan)
    large = np.abs(share) > settings.largest_difference / 2
    wanted = large & rolling_any(far, sky.steps(settings.window))
    around = rolling_median(share, sky.steps(ADJOINING_HALF), ADJOINING_HALF, wanted)
    out = np.zeros(far.shape, bool)
    for sign in (-1.0, 1.0):
        same = (sign * around > settings.largest_difference) & (sign * share > 0) & large
        out |= grown(far & (sign * share > 0), same, sky.steps(settings.window))
    return out


def hourly_closure(minutes: Minutes) -> Verdict:
    """
    Compare global with the component sum over an hour.

    Parameters
    ----------
    minutes : Minutes
        The minutes, all three components among them.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        By all minutes of the hour, or by the sunlit ones.
    """
    sky, settings = minutes.whole_sky, minutes.settings.closure
    every, sunlit = hours(minutes)
    far = every.far(settings) | sunlit.far(settings)
    if far.any():
        far = _adjoining(sky, far, settings)
    return every.enough | sunlit.enough | far, far
