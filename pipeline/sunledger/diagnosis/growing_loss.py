"""A loss that begins at some time and grows, fitted to clear and dull ratios day by day.

The onset is not known, so that every possible one is fitted and weighed by how well it meets the
days (Bayesian model averaging); what the choice leaves open widens the interval. A straight line
from the first day on is one of them, and the only one where there are few days.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.grouped import medians
from sunledger.diagnosis.ratios import LEAST_OF_A_DAY, Ratios, day_values
from sunledger.diagnosis.robust import huber_weights, spread
from sunledger.diagnosis.separation import FLOOR_CLEAR, FLOOR_DULL, FULL_DULL, Pair

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Sky = tuple[Ratios, Ratios]

DAY = 86400
SECONDS_PER_DEGREE = 240.0
"""By which local mean time is ahead of UTC. [s/degree]"""
LEAST_CLEAR_DAYS, LEAST_DULL_DAYS = 6, 4
"""Fewer days tell no course."""
LEAST_DULL_HOURS = 6
LEAST_BEHIND = 3
"""Clear days that must lie behind an onset, and before one that is not the beginning."""
LEAST_AT_AN_END = 2
"""Clear days in the first and in the last third of the time seen; also on both sides of a step."""
LEAST_CHANCE = 0.75
"""How likely growth must be, against a step that begins at once, to be told."""
LEAST_FOR_ONSET = 7
"""Clear days from which on an onset is looked for; with fewer a straight line is fitted."""
USUAL_CLEAR, USUAL_DULL = 0.002, 0.0035
"""Standard deviation of a full day around the course, as generated and the published month show
it. [1]"""
WORTH_CLEAR, WORTH_DULL = 4.0, 4.0
"""Days that this knowledge counts for beside the scatter of the days themselves."""
FULL_CLEAR = 200
"""Clear minutes from which on a day counts fully."""
LEAST_OF_A_CELL = 10
NEXT_DAY = 1.5
"""Days in a row are nearer than this. [d]"""
FITTED, UNSURE, MOST_LASTING = 3.0, 5.0, 0.7
"""Coefficients by which what is left of days alternates more than their errors did; days that no
correlation counts for, since few tell little of it; the largest one taken."""
_ROUNDS = 4


@dataclass(frozen=True)
class Days:
    """
    Values of days under one kind of sky, freed of what does not change with time.

    Parameters
    ----------
    time : numpy.ndarray, shape (value,)
        [s since 1970-01-01]
    day : numpy.ndarray of int64, shape (value,)
        Number of the day of each value, from 0.
    value : numpy.ndarray, shape (value,)
        Logarithm of the ratio. [1]
    weight : numpy.ndarray, shape (value,)
        The weights of a full day add up to 1.
    constant : numpy.ndarray, shape (value, column)
        Columns of what is constant: positions of the sun, levels of stretches.
    levels : int
        Stretches between exchanges.
    """

    time: Array
    day: Ints
    value: Array
    weight: Array
    constant: Array
    levels: int

    @property
    def count(self) -> int:
        """
        Number of days.

        Returns
        -------
        count : int
            All those with a value.
        """
        return int(self.day.max()) + 1 if self.day.size else 0


@dataclass(frozen=True)
class Fitted:
    """
    One size for each course tried.

    Parameters
    ----------
    size, variance : numpy.ndarray, shape (course,)
        Change at the end. [1]
    likelihood : numpy.ndarray, shape (course,)
        Logarithm, but for a constant.
    freedom : float
        Degrees of freedom of the variance.
    """

    size: Array
    variance: Array
    likelihood: Array
    freedom: float


@dataclass(frozen=True)
class Growth:
    """
    What a stretch of days says of a growing loss.

    Parameters
    ----------
    pair : Pair
        Changes of both ratios within the days seen.
    onset : tuple of float
        Earliest, most likely and latest onset, of 95 % confidence. [s since 1970-01-01]
    seen : tuple of float
        First clear day and last clear minute. [s since 1970-01-01]
    growing : float
        How likely it is that something grew, against a step at one midnight. [1]
    straight : bool
        Whether only a straight line from the first day on was fitted.
    """

    pair: Pair
    onset: tuple[float, float, float]
    seen: tuple[float, float]
    growing: float
    straight: bool

    @property
    def from_the_first_day(self) -> bool:
        """
        Whether it may have grown since before the first day seen.

        Returns
        -------
        may : bool
            True where a straight line is among what the days allow.
        """
        return self.onset[0] <= self.seen[0]

    @property
    def sure(self) -> bool:
        """
        Whether something grew, and no step explains the days.

        Returns
        -------
        sure : bool
            By ``LEAST_CHANCE``.
        """
        return self.growing >= LEAST_CHANCE


def growth(skies: Sequence[Sky], longitude: float) -> Growth | None:
    """
    Fit a growing loss to stretches between which instruments were exchanged.

    Parameters
    ----------
    skies : sequence of (Ratios, Ratios)
        Clear minutes and dull hours of each stretch, in order. Each has a level of its own, the
        course is common.
    longitude : float
        East; onsets are looked for at midnights of local mean time, between the days of the
        ratios. [degree]

    Returns
    -------
    growth : Growth or None
        None with too few clear days, or too few at either end. The dull ratio is unknown with too
        few dull ones.
    """
    clear = _clear_days([sky[0] for sky in skies])
    if clear.count < LEAST_CLEAR_DAYS or not _spread_out(clear):
        return None
    dull = _dull_days([sky[1] for sky in skies])
    end = max(float(sky[0].middle[-1]) for sky in skies if sky[0].middle.size)
    courses = _Courses.of(clear, end, longitude * SECONDS_PER_DEGREE)
    hours = sum(sky[1].middle.size for sky in skies)
    known = dull.count >= LEAST_DULL_DAYS and hours >= LEAST_DULL_HOURS
    fits = [_fit(clear, courses, (USUAL_CLEAR, WORTH_CLEAR))]
    fits += [_fit(dull, courses, (USUAL_DULL, WORTH_DULL))] if known else []
    chance, growing = _chances(fits, courses)
    pair = _pair(fits, chance, skies, clear.count)
    begin = float(courses.onsets[0])
    straight = courses.onsets.size == 1
    return Growth(pair, _likely(courses.onsets, chance), (begin, end), growing, straight)


@dataclass(frozen=True)
class _Courses:
    """Onsets of what grows, and midnights of steps; the first onset is that of a straight line."""

    onsets: Array
    steps: Array
    end: float

    @classmethod
    def of(cls, clear: Days, end: float, east: float) -> _Courses:
        """``east``: how far local mean time is ahead. [s]"""
        times = _times(clear)
        onsets = [times[0]]
        if clear.count >= LEAST_FOR_ONSET:
            onsets += _midnights(times, LEAST_BEHIND, east)
        return cls(np.array(onsets), np.array(_midnights(times, LEAST_AT_AN_END, east)), end)

    def at(self, time: Array) -> Array:
        """From 0 to 1 at the end, shape (course, time): growing ones, then steps."""
        growing = (time - self.onsets[:, None]) / (self.end - self.onsets[:, None])
        growing[1:] = np.maximum(growing[1:], 0.0)
        return np.concatenate([growing, (time > self.steps[:, None]).astype(float)])


def _midnights(times: Array, least: int, east: float) -> list[float]:
    """Midnights of local mean time with so many days before and behind."""
    first = np.ceil((times[least - 1] + east) / DAY) * DAY - east
    return list(np.arange(first, times[-least], DAY))


def _times(days: Days) -> Array:
    return np.array([days.time[days.day == d].mean() for d in range(days.count)])


def _spread_out(clear: Days) -> bool:
    """One day at an end must not turn the line alone."""
    times = _times(clear)
    passed = (times - times[0]) / (times[-1] - times[0])
    ends = np.sum(passed <= 1 / 3), np.sum(passed >= 2 / 3)
    return bool(min(ends) >= LEAST_AT_AN_END)


def _clear_days(parts: Sequence[Ratios]) -> Days:
    """Medians of each day and position of the sun."""
    level = np.repeat(np.arange(len(parts)), [r.day.size for r in parts])
    day, bins, time, value = (
        np.concatenate([getattr(r, name) for r in parts])
        for name in ("day", "bins", "middle", "log_ratio")
    )
    keys = np.stack([day, level, bins], axis=1)
    cells, place, count = np.unique(keys, axis=0, return_inverse=True, return_counts=True)
    order = np.argsort(place.ravel(), kind="stable")
    groups = np.split(time[order], np.cumsum(count)[:-1]) if count.size else []
    middles = np.array([g.mean() for g in groups])
    of_day, full = np.unique(day, return_counts=True)
    minutes = full[np.searchsorted(of_day, cells[:, 0])] if count.size else count
    keep = (count >= LEAST_OF_A_CELL) & (minutes >= LEAST_OF_A_DAY)
    weight = count / np.maximum(minutes, FULL_CLEAR)
    return _days(middles, cells, medians(value[order], count), weight, keep)


def _dull_days(parts: Sequence[Ratios]) -> Days:
    """Medians of each day: under a dull sky the sun's position hardly matters."""
    values = [day_values(r, None, 1) for r in parts]
    level = np.repeat(np.arange(len(parts)), [v.day.size for v in values])
    day = np.concatenate([v.day for v in values])
    hours = np.concatenate([v.minutes for v in values])
    middles = [
        r.middle[r.day == d].mean() for r, v in zip(parts, values, strict=True) for d in v.day
    ]
    cells = np.stack([day, level, np.zeros_like(day)], axis=1)
    value = np.concatenate([v.value for v in values])
    weight = np.minimum(hours, FULL_DULL) / FULL_DULL
    return _days(np.array(middles, dtype=float), cells, value, weight, hours > 0)


def _days(
    time: Array, cells: Ints, value: Array, weight: Array, keep: npt.NDArray[np.bool_]
) -> Days:
    cells = cells[keep]
    number = np.unique(cells[:, 0], return_inverse=True)[1].ravel()
    levels, level = np.unique(cells[:, 1], return_inverse=True)
    bins, place = np.unique(cells[:, 2], return_inverse=True)
    constant = np.concatenate(
        [np.eye(bins.size)[place.ravel()], np.eye(levels.size)[level.ravel()][:, 1:]], axis=1
    )
    return Days(time[keep], number, value[keep], weight[keep], constant, levels.size)


def _fit(days: Days, courses: _Courses, usual: tuple[float, float]) -> Fitted:
    """Weighted least squares for each course, days that stand out weighing less."""
    course = courses.at(days.time)
    sigma, worth = usual
    base = _by_day(days, days.weight[None])[0]
    trust = np.ones(days.count)
    for _ in range(_ROUNDS):
        weight = days.weight * trust[days.day]
        value, bent = _freed(days, weight, course)
        strength = np.maximum(bent**2 @ weight, 1e-9)
        size = (bent * weight) @ value / strength
        left = value - size[:, None] * bent
        by_day = _by_day(days, days.weight * left) / base
        total = by_day**2 @ (base * trust)
        best = by_day[int(np.argmin(total))] * np.sqrt(base)
        trust = huber_weights(best, max(spread(best), sigma))
    free = max(days.count - days.levels - 1.0 - (courses.onsets.size > 1), 0.0)
    scatter = (total + worth * sigma**2) / (free + worth)
    lever = _by_day(days, weight * bent) / np.sqrt(base * trust) / strength[:, None]
    alike = _alike(best * np.sqrt(trust), _times(days) / DAY)
    pull = np.einsum("cd,de,ce->c", lever, alike, lever)
    likelihood = -0.5 * (free + worth) * np.log(total + worth * sigma**2)
    return Fitted(size, scatter * pull, likelihood, free + worth)


def _alike(left: Array, time: Array) -> Array:
    """Correlation of the errors of days, as what is left of days in a row shows it, but never
    below none."""
    next_day = np.diff(time) < NEXT_DAY
    power = float(np.mean(left**2))
    if not next_day.any() or power <= 0:
        return np.eye(left.size)
    found = float(np.mean((left[1:] * left[:-1])[next_day])) / power
    # what is fitted takes some of it away
    found += FITTED / left.size
    lasting = np.clip(found * left.size / (left.size + UNSURE), 0.0, MOST_LASTING)
    return np.asarray(lasting ** np.abs(time[:, None] - time))


def _freed(days: Days, weight: Array, course: Array) -> tuple[Array, Array]:
    """Values and courses less all that is constant."""
    root = np.sqrt(weight)[:, None]
    columns = np.concatenate([days.value[:, None], course.T], axis=1)
    known = np.linalg.lstsq(days.constant * root, columns * root, rcond=None)[0]
    left = columns - days.constant @ known
    return left[:, 0], left[:, 1:].T


def _by_day(days: Days, values: Array) -> Array:
    return np.stack([np.bincount(days.day, row, days.count) for row in values])


def _chances(fits: Sequence[Fitted], courses: _Courses) -> tuple[Array, float]:
    """Chance of each onset, and of growth against steps.

    Before the days are seen the first onset is as likely as all others together, and growth as
    likely as a step.
    """
    told = np.sum([f.likelihood for f in fits], axis=0)
    chance = np.exp(told - told.max())
    grown, stepped = np.split(chance, [courses.onsets.size])
    grown[1:] /= max(grown.size - 1, 1)
    grown /= min(grown.size, 2)
    step = float(stepped.mean()) if stepped.size else 0.0
    return grown / grown.sum(), float(grown.sum() / (grown.sum() + step))


def _pair(fits: Sequence[Fitted], chance: Array, skies: Sequence[Sky], days: int) -> Pair:
    """Mean over onsets; that they differ is part of the covariance."""
    sizes = np.stack([f.size[: chance.size] for f in fits])
    mean = sizes @ chance
    off = sizes - mean[:, None]
    own = [float(f.variance[: chance.size] @ chance) for f in fits]
    count = len(fits)
    floors = np.square([FLOOR_CLEAR, FLOOR_DULL])[:count]
    value, variance = np.full(2, np.nan), np.diag([np.inf, np.inf])
    value[:count] = mean
    variance[:count, :count] = np.diag(own + floors) + (off * chance) @ off.T
    shares = [np.concatenate([s[i].share for s in skies]) for i in (0, 1)]
    share = np.array([each.mean() if each.size else np.nan for each in shares])
    minutes = sum(sky[0].middle.size for sky in skies)
    # what is stated and not estimated takes no degree of freedom (Welch-Satterthwaite)
    whole = np.diag(variance)[:count]
    freedom = min(f.freedom * (w / o) ** 2 for f, w, o in zip(fits, whole, own, strict=True))
    return Pair(value, variance, share, minutes, days, min(freedom, 1e6))


def _likely(onsets: Array, chance: Array) -> tuple[float, float, float]:
    order = np.argsort(onsets)
    passed = np.cumsum(chance[order])
    early, late = (onsets[order][int(np.searchsorted(passed, p))] for p in (0.025, 0.9749))
    return float(early), float(onsets[int(np.argmax(chance))]), float(late)
