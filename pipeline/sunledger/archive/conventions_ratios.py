"""Variables of the ratios in the aggregate products, and of the possible sunshine."""

from __future__ import annotations

from collections.abc import Mapping

from sunledger.archive.conventions import float_series, series_attributes
from sunledger.archive.conventions_aggregates import AggregateNotes, companions
from sunledger.archive.conventions_series import cell_methods
from sunledger.archive.specification import Array, Attribute, VariableSpec
from sunledger.vocabulary import Quantity

RATIOS: dict[str, tuple[str, str]] = {
    "clearness_index": (
        "clearness index, selected global over extraterrestrial irradiance on the horizontal",
        "ratio of sums over the minutes with the sun's centre above the horizon in which the"
        " global counts; solar constant 1361 W m-2",
    ),
    "diffuse_fraction": (
        "diffuse fraction, diffuse over selected global irradiance",
        "ratio of sums over the minutes with the sun's centre above the horizon in which both"
        " count",
    ),
    "relative_sunshine": (
        "relative sunshine, duration over possible duration of sunshine",
        "ratio of sums over the minutes from sunrise to sunset in which the direct counts",
    ),
}
"""Name → long name, and how the ratio is made."""


def ratio_variables(
    name: str, values: Mapping[str, Array], notes: AggregateNotes
) -> tuple[VariableSpec, ...]:
    """
    One ratio and what goes with it.

    Parameters
    ----------
    name : str
        Key of `RATIOS`.
    values : dict
        ``mean``: the ratio, NaN where withheld or undefined; and any of ``withheld``,
        ``number_of_observations``, ``number_of_missing_observations``, ``coverage_fraction``;
        arrays of shape (time,).
    notes : AggregateNotes
        How the values were made.

    Returns
    -------
    variables : tuple of VariableSpec
        The ratio first.
    """
    long_name, made = RATIOS[name]
    row = Quantity(name, f"{notes.period} {long_name}", "1", "shortwave")
    rest = companions(row, values, notes)
    attributes: dict[str, Attribute] = {
        "long_name": row.long_name,
        "units": "1",
        "ancillary_variables": " ".join(variable.name for variable in rest),
        "comment": made,
    }
    return (float_series(name, values["mean"], attributes, "physicalMeasurement"), *rest)


def clear_minute_variables(clear: Array, told: Array) -> tuple[VariableSpec, VariableSpec]:
    """
    Number of minutes with a clear sky, and of those of which that can be told.

    Parameters
    ----------
    clear, told : numpy.ndarray of int, shape (time,)
        Minutes.

    Returns
    -------
    variables : tuple of VariableSpec
        ``clear_minutes`` and ``clear_minutes_told``.
    """
    words = (
        "number of minutes with a clear sky",
        "number of minutes of which it can be told whether the sky is clear",
    )
    method = (
        "after tests 1 to 3 of Long and Ackerman 2000 (J. Geophys. Res. 105, 15609-15626) on global"
        " and diffuse, passed by all minutes within 5 min; nothing is fitted to the site, so that"
        " the number compares times at one station, not stations; nothing is told of the sun below"
        " a zenith angle of 85 degree"
    )
    names = ("clear_minutes", "clear_minutes_told")
    return tuple(  # type: ignore[return-value]
        VariableSpec(
            name,
            ("time",),
            values,
            series_attributes(
                {"long_name": what, "units": "1", "cell_methods": "time: sum", "comment": method},
                "auxiliaryInformation",
            ),
            "i4",
        )
        for name, what, values in zip(names, words, (clear, told), strict=True)
    )


def possible_sunshine(values: Array, notes: AggregateNotes) -> VariableSpec:
    """
    Time from sunrise to sunset.

    Parameters
    ----------
    values : numpy.ndarray, shape (time,)
        Duration. [s]
    notes : AggregateNotes
        How the values were made.

    Returns
    -------
    variable : VariableSpec
        ``possible_sunshine_duration``.
    """
    attributes: dict[str, Attribute] = {
        "long_name": f"{notes.period} possible duration of sunshine, from sunrise to sunset",
        "units": "s",
        "cell_methods": cell_methods("sum", notes.samples),
        "comment": "upper limb over a free horizon with mean refraction (true zenith angle of the"
        " centre below 90.833 degree), in whole minutes; no horizon profile",
    }
    return float_series("possible_sunshine_duration", values, attributes, "auxiliaryInformation")
