"""Minutes of a comparison campaign: signal of the instrument, irradiance of the reference.

Readings go through the same stages as for the archive: true times, corrections, the grid of true
time. The record's conditions and the clocks come with them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.models.campaign import Campaign
from sunledger.config.resolve import Period
from sunledger.datasets import as_variables
from sunledger.stages.beside import logger_of
from sunledger.stages.calibrate import calibrate
from sunledger.stages.correction_steps import NOT_APPLIED
from sunledger.stages.time_correct import logger_on_grid, sun_grid
from sunledger.stages.true_time import with_true_times
from sunledger.stages.uncertain_minutes import contributions_on_grid
from sunledger.vocabulary import CONDITIONS, CORRECTIONS, mask_of

Array = npt.NDArray[np.float64]
Grid = dict[str, npt.NDArray[np.generic]]
Parts = dict[str, tuple[str, Array, dict[str, str]]]

_HARMLESS = (
    "clock_unverified",
    "interval_emptied",
    "line_rejected",
    "review_accepted",
    "clocks_apart",
    "correction_not_applied",
)
"""Conditions under which a minute may count. Clocks are compared with each other here; a correction
that can never be applied is missing in use as well, so it hinders only where others have it."""
_OF_CERTIFICATES = ("no_calibration", "calibration_expired")
DISQUALIFYING = mask_of(CONDITIONS, *(n for n in CONDITIONS if n not in _HARMLESS))
DISQUALIFYING_MINE = DISQUALIFYING & ~mask_of(CONDITIONS, *_OF_CERTIFICATES)
"""For the instrument itself: it is there to be calibrated."""

OWN_PARTS = (
    "temperature",
    "zero_offset_a",
    "zero_offset_b",
    "level",
    "logger_accuracy",
    "logger_gain",
    "clock",
)
"""Components of the instrument's own budget that bear on the signal beside the reference, and on
what it would be at the reference temperature. What it does at other angles and spectra is part of
its budget in use, not of the certificate; its stability begins with it."""


def sensitivity_of(period: Period, position: str) -> float:
    """
    The one sensitivity of the instrument while it is compared.

    Parameters
    ----------
    period : Period
        Resolved from the trial configuration.
    position : str
        Where it stands.

    Returns
    -------
    sensitivity : float
        [uV W-1 m2]
    """
    row = next(r for r in period.coefficients if r.position == position)
    return row.sensitivity_points[0][1]


def with_sensitivity(period: Period, position: str, sensitivity: float) -> Period:
    """
    A period with another sensitivity of the instrument.

    Parameters
    ----------
    period : Period
        Resolved.
    position : str
        Where it stands.
    sensitivity : float
        [uV W-1 m2]

    Returns
    -------
    period : Period
        The same in all else.
    """
    rows = tuple(
        replace(r, sensitivity_points=((r.sensitivity_points[0][0], sensitivity),))
        if r.position == position
        else r
        for r in period.coefficients
    )
    return replace(period, coefficients=rows)


def campaign_minutes(readings: xr.Dataset, period: Period, campaign: Campaign) -> xr.Dataset:
    """
    Put the instrument and its reference side by side on the grid of true time.

    Parameters
    ----------
    readings : xarray.Dataset
        Of all loggers concerned, in file order, from the ingest stage.
    period : Period
        Resolved from the trial configuration, halo included.
    campaign : Campaign
        Positions and method.

    Returns
    -------
    minutes : xarray.Dataset
        Along ``time``: ``signal`` [uV], corrected as the certificate's tables say; ``reference``
        in the unit of the quantity, ``part_reference`` and ``part_reference_of_a_minute`` (what of
        its standard uncertainty lasts, and what is new each minute); ``zenith`` at the
        nominal middle [degree]; ``hindered`` (the record or a correction speaks against the
        minute); ``clocks_apart`` (largest difference of the clocks' residuals [s]);
        ``body_temperature`` [K] where known; and one ``part_<component>`` for each of ``OWN_PARTS``
        that its budget has, in the unit of the quantity. Parts that are new each minute have the
        attribute ``common``: ``sample``. Of the halo too. Attributes of the whole
        ``corrections``: those that the signal went through, of ``CORRECTIONS``; ``longitude`` of
        the station [degree].
    """
    done = calibrate(with_true_times(readings, period), period)
    common = sun_grid(period)
    time, interval, sun = common
    grid: Grid = {}
    for logger in period.loggers:
        grid |= logger_on_grid(done, period, logger, common)
    mine = campaign.position

    def budget_of(position: str) -> tuple[dict[str, Array], dict[str, str]]:
        return contributions_on_grid(position, grid, period, time, sun.zenith, interval)

    out = {
        "signal": np.asarray(grid[mine], float) * sensitivity_of(period, mine),
        "reference": _reference(grid, campaign),
        "zenith": sun.zenith,
        "hindered": _hindered(grid, period, campaign),
        "clocks_apart": _clocks_apart(grid, period, campaign),
    }
    if f"{mine}_body_temperature" in grid:
        out["body_temperature"] = grid[f"{mine}_body_temperature"]
    about = {"corrections": tuple(_corrections(grid, mine)), "longitude": period.longitude}
    found = {n: ("time", v) for n, v in out.items()}
    parts = _parts_of_reference(grid, campaign, budget_of) | _own_parts(*budget_of(mine))
    return xr.Dataset(as_variables(found | parts), as_variables({"time": ("time", time)}), about)


def _own_parts(sizes: dict[str, Array], common: dict[str, str]) -> Parts:
    return {
        f"part_{name}": ("time", sizes[name], {"common": common[name]})
        for name in OWN_PARTS
        if name in sizes
    }


def _parts_of_reference(
    grid: Grid,
    campaign: Campaign,
    budget_of: Callable[[str], tuple[dict[str, Array], dict[str, str]]],
) -> Parts:
    """What lasts of the reference's standard uncertainty, and what is new each minute."""
    out: Parts = {}
    weights = _weights(grid, campaign)
    for word, kind in (("reference", "lasting"), ("reference_of_a_minute", "sample")):
        squares = np.zeros(grid[campaign.position].shape)
        for position, weight in weights.items():
            sizes, common = budget_of(position)
            mine = (s for n, s in sizes.items() if (common[n] == "sample") == (kind == "sample"))
            squares = squares + weight**2 * sum(s**2 for s in mine)
        out[f"part_{word}"] = ("time", np.sqrt(squares), {"common": kind})
    return out


def _corrections(grid: Grid, position: str) -> dict[str, Array]:
    """What each correction added at a position, of those that ever added something."""
    found = {n: f"{position}_{n}_correction" for n in CORRECTIONS}
    added = {n: np.asarray(grid[name], float) for n, name in found.items() if name in grid}
    return {n: amount for n, amount in added.items() if (np.nan_to_num(amount) != 0).any()}


def _weights(grid: Grid, campaign: Campaign) -> dict[str, Array | float]:
    """Positions of the reference, and what of each enters its irradiance."""
    if campaign.components is None:
        return {campaign.reference_positions()[0]: 1.0}
    # where the sun stood for the instrument's own logger
    cosine = np.maximum(np.asarray(grid[f"{campaign.position}_cosine_zenith"], float), 0.0)
    return {campaign.components.direct: cosine, campaign.components.diffuse: 1.0}


def _reference(grid: Grid, campaign: Campaign) -> Array:
    weights = _weights(grid, campaign).items()
    return np.asarray(sum(np.asarray(grid[p], float) * weight for p, weight in weights))


def _hindered(grid: Grid, period: Period, campaign: Campaign) -> npt.NDArray[np.bool_]:
    bad = _tracker_elsewhere(grid, period, campaign)
    for position in (campaign.position, *campaign.reference_positions()):
        words = grid[f"{position}_conditions"].astype(np.int32)
        mine = position == campaign.position
        bad |= (words & (DISQUALIFYING_MINE if mine else DISQUALIFYING)) != 0
        for amount in _corrections(grid, position).values():
            bad |= ((words & NOT_APPLIED) != 0) & (amount == 0)
    return bad


def _tracker_elsewhere(grid: Grid, period: Period, campaign: Campaign) -> npt.NDArray[np.bool_]:
    """Where a tracker under one of the instruments says that it does not follow the sun."""
    nowhere = np.zeros(grid[campaign.position].shape, bool)
    quantities = dict(period.positions)
    positions = (campaign.position, *campaign.reference_positions())
    if not {"dni", "dhi"} & {quantities[p] for p in positions}:
        return nowhere
    for logger in period.loggers:
        for channel in (c for c in logger.channels if c.name == "tracker_mode"):
            words = channel.meanings or {}
            off = [code for code, word in words.items() if word in ("homing", "off", "fault")]
            nowhere |= np.isin(grid[channel.name], off)
    return nowhere


def _clocks_apart(grid: Grid, period: Period, campaign: Campaign) -> Array:
    positions = (campaign.position, *campaign.reference_positions())
    names = dict.fromkeys(logger_of(period, p).name for p in positions)
    residuals = np.stack([np.asarray(grid[f"clock_residual_{n}"], float) for n in names])
    return np.asarray(np.ptp(residuals, axis=0))
