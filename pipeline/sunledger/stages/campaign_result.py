"""What a comparison campaign comes to: minutes chosen, series, responsivity, and its budget."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.models.campaign import Campaign, CampaignSelection
from sunledger.datasets import taken
from sunledger.errors import CampaignError
from sunledger.physics.comparison import (
    departure_from_line,
    mean_of_days,
    near_the_median,
    without_outliers,
)
from sunledger.physics.gum import (
    combined_standard_uncertainty,
    coverage_factor,
    effective_degrees_of_freedom,
    expanded_uncertainty,
)

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

DAY = 86400
LARGEST_COVERAGE_FACTOR = 4.0
"""Above it the days are too few to state an interval: a certificate takes no larger one."""


@dataclass(frozen=True)
class Selected:
    """
    Minutes and series that count.

    Parameters
    ----------
    minutes : numpy.ndarray of bool, shape (time,)
        Those that enter the sums.
    responsivity : numpy.ndarray, shape (series,)
        Of the series that count. [uV W-1 m2]
    day : numpy.ndarray of int, shape (series,)
        Day of each in mean solar time, as days since 1970-01-01.
    left_out : tuple of (str, int)
        Why minutes do not count, in the order asked, and how many each time.
    """

    minutes: Mask
    responsivity: Array
    day: npt.NDArray[np.int64]
    left_out: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class Part:
    """
    One line of the budget of a responsivity.

    Parameters
    ----------
    name : str
        What makes it uncertain.
    standard : float
        Relative standard uncertainty. [1]
    degrees : float
        Degrees of freedom; infinite for what is taken from a budget or certificate.
    source : str
        Where it comes from.
    """

    name: str
    standard: float
    degrees: float
    source: str


@dataclass(frozen=True)
class Result:
    """
    Result of a campaign.

    Parameters
    ----------
    responsivity : float
        [uV W-1 m2]
    parts : tuple of Part
        Budget.
    combined : float
        Relative standard uncertainty. [1]
    degrees : float
        Effective degrees of freedom.
    coverage_factor : float
        For 95 %.
    selected : Selected
        What it rests on.
    zenith : float
        Mean over the minutes that count. [degree]
    irradiance : float
        Mean of the reference over them, in the unit of the quantity.
    temperature : float
        Mean of the body over them, NaN where unknown. [K]
    """

    responsivity: float
    parts: tuple[Part, ...]
    combined: float
    degrees: float
    coverage_factor: float
    selected: Selected
    zenith: float
    irradiance: float
    temperature: float

    @property
    def expanded(self) -> float:
        """
        Expanded uncertainty.

        Returns
        -------
        expanded : float
            Relative, for 95 %. [1]
        """
        return float(expanded_uncertainty(self.combined, self.coverage_factor))


def _reasons(ds: xr.Dataset, campaign: Campaign, apart: float) -> Iterator[tuple[str, Mask]]:
    """In the order in which minutes are asked; a minute counts for the first that it fails."""
    chosen, time = campaign.selection, ds["time"].values
    signal, reference = ds["signal"].values, ds["reference"].values
    yield "outside the campaign", (time < campaign.valid_from) | (time >= campaign.until)
    yield "without a reading or a reference", ~(np.isfinite(signal) & np.isfinite(reference))
    yield (
        f"reference below {chosen.least_irradiance:g}",
        ~(reference >= chosen.least_irradiance),
    )
    yield (
        f"zenith angle above {chosen.largest_zenith:g} degrees",
        ds["zenith"].values > chosen.largest_zenith,
    )
    yield "hindered by what the record, a tracker or a correction says", ds["hindered"].values
    yield (
        f"clocks more than {apart:g} s apart",
        ~(ds["clocks_apart"].values <= apart),
    )


def select(ds: xr.Dataset, campaign: Campaign, apart: float) -> Selected:
    """
    Choose the minutes and series that count.

    Parameters
    ----------
    ds : xarray.Dataset
        From :func:`sunledger.stages.campaign_minutes.campaign_minutes`.
    campaign : Campaign
        Period and rules of selection.
    apart : float
        Largest difference of the clocks' residuals. [s]

    Returns
    -------
    selected : Selected
        It may hold no series at all.
    """
    left_out, use = [], np.ones(ds.sizes["time"], bool)
    for reason, fails in _reasons(ds, campaign, apart):
        if reason != "outside the campaign":
            left_out.append((reason, int(np.count_nonzero(use & fails))))
        use &= ~fails
    rows = np.flatnonzero(use)
    found, more = _series(ds, rows, campaign.selection)
    use[rows[~found.minutes]] = False
    return Selected(use, found.responsivity, found.day, (*left_out, *more))


def _series(
    ds: xr.Dataset, rows: npt.NDArray[np.int64], chosen: CampaignSelection
) -> tuple[Selected, list[tuple[str, int]]]:
    """Of the minutes that may count, those in series that are long, steady and agree."""
    time = ds["time"].values[rows]
    numbers, series = np.unique(time // chosen.series, return_inverse=True)
    size = numbers.size
    signal, reference = (ds[n].values[rows] for n in ("signal", "reference"))
    count = np.bincount(series, minlength=size)
    long = count >= chosen.least_readings
    departure = departure_from_line(reference, time.astype(float), series, size)
    steady = departure <= chosen.largest_unsteadiness / 100.0
    mine = (long & steady)[series]
    kept = without_outliers(
        np.where(mine, signal, np.nan), reference, series, size, chosen.largest_deviation / 100.0
    )
    enough = np.bincount(series[kept.readings], minlength=size) >= chosen.least_readings
    near = near_the_median(
        np.where(enough, kept.responsivity, np.nan), chosen.largest_series_deviation / 100.0
    )
    left_out = [
        (f"in series of fewer than {chosen.least_readings} minutes", int(count[~long].sum())),
        (
            f"in series that depart from a line by more than {chosen.largest_unsteadiness:g} %",
            int(count[long & ~steady].sum()),
        ),
        (
            f"ratio more than {chosen.largest_deviation:g} % from the median of the series",
            int(np.count_nonzero(mine & ~kept.readings)),
        ),
        (
            "in series with too few minutes left, or more than"
            f" {chosen.largest_series_deviation:g} % from the median of all",
            int(np.count_nonzero(kept.readings & ~near[series])),
        ),
    ]
    minutes = kept.readings & near[series]
    # by mean solar time: the light of one day is not two, wherever UTC's midnight falls
    local = numbers[near] * chosen.series + ds.attrs["longitude"] * 240.0
    day = np.floor(local / DAY).astype(np.int64)
    return Selected(minutes, kept.responsivity[near], day, ()), left_out


def require_enough(selected: Selected, chosen: CampaignSelection) -> None:
    """
    Refuse a campaign that rests on too little.

    Parameters
    ----------
    selected : Selected
        What counts.
    chosen : CampaignSelection
        How much is asked.

    Raises
    ------
    CampaignError
        Naming how many series and days there are, and why minutes were left out.
    """
    series, days = selected.responsivity.size, np.unique(selected.day).size
    if series >= chosen.least_series and days >= chosen.least_days:
        return
    why = "; ".join(f"{n} {reason}" for reason, n in selected.left_out if n)
    raise CampaignError(
        f"too little to calibrate by: {series} series on {days} days count; needed:"
        f" {chosen.least_series} on {chosen.least_days}; minutes left out: {why or 'none'}"
    )


def result_of(ds: xr.Dataset, campaign: Campaign, apart: float) -> Result:
    """
    Responsivity with its uncertainty after the GUM.

    Parameters
    ----------
    ds : xarray.Dataset
        From :func:`sunledger.stages.campaign_minutes.campaign_minutes`.
    campaign : Campaign
        Period and rules of selection.
    apart : float
        Largest difference of the clocks' residuals. [s]

    Returns
    -------
    result : Result
        Errors of reference and instrument that last are taken to be the same at all minutes,
        which is the careful side: their mean relative standard uncertainties stand in the budget,
        beside those that are new each minute and the scatter of the days.

    Raises
    ------
    CampaignError
        If too few series or days count, or the days leave no interval worth stating.
    """
    selected = select(ds, campaign, apart)
    require_enough(selected, campaign.selection)
    mean, scatter, degrees = mean_of_days(selected.responsivity, selected.day)
    used = taken(ds, {"time": np.flatnonzero(selected.minutes)})
    parts = (
        Part("scatter of the days", scatter / mean, degrees, f"{degrees + 1} days, type A"),
        *_from_budgets(used, mean),
    )
    shares = [p.standard for p in parts]
    freedom = float(effective_degrees_of_freedom(shares, [p.degrees for p in parts]))
    factor = float(coverage_factor(freedom))
    if factor > LARGEST_COVERAGE_FACTOR:
        raise CampaignError(
            f"the days scatter by {100 * scatter / mean:.2f} % in their mean, which with"
            f" {degrees + 1} days leaves no interval worth stating (coverage factor {factor:.1f});"
            " compare on more days"
        )
    known = "body_temperature" in used
    return Result(
        responsivity=mean,
        parts=parts,
        combined=float(combined_standard_uncertainty(shares)),
        degrees=freedom,
        coverage_factor=factor,
        selected=selected,
        zenith=float(used["zenith"].mean()),
        irradiance=float(used["reference"].mean()),
        temperature=float(used["body_temperature"].mean()) if known else float("nan"),
    )


def _from_budgets(used: xr.Dataset, responsivity: float) -> Iterator[Part]:
    """Components of reference and instrument, relative to the light in the sums."""
    mine = float(used["signal"].sum()) / responsivity
    for name in (str(n) for n in used.data_vars if str(n).startswith("part_")):
        sizes, word = used[name].values, name.removeprefix("part_")
        # what is new each minute averages out; the rest is taken to be the same at all of them
        each = used[name].attrs.get("common") == "sample"
        size = float(np.sqrt(np.sum(sizes**2))) if each else float(np.sum(sizes))
        whose = "reference" if word.startswith("reference") else "instrument"
        yield Part(word, size / mine, np.inf, f"budget of the {whose} in these minutes")
