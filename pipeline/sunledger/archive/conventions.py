"""CF attributes of what every file shares: station, time, sun angles, instruments."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from sunledger.archive.conventions_tables import (
    EPOCH,
    column,
    metadata_group,
    table,
    time_column,
)
from sunledger.archive.specification import Attribute, VariableSpec
from sunledger.vocabulary import Quantity

__all__ = [
    "COORDINATES",
    "EPOCH",
    "Place",
    "at_position",
    "clock_residual",
    "column",
    "float_series",
    "instrument_container",
    "metadata_group",
    "series_attributes",
    "station_variables",
    "sun_angles",
    "table",
    "time_column",
    "time_variables",
]

COORDINATES = "latitude longitude altitude station_name"
Content = Literal[
    "physicalMeasurement", "qualityInformation", "auxiliaryInformation", "referenceInformation"
]


@dataclass(frozen=True)
class Place:
    """
    Where the station is.

    Parameters
    ----------
    name : str
        Name of the station.
    latitude : float
        Geodetic, WGS 84. [degree north]
    longitude : float
        WGS 84. [degree east]
    altitude : float
        Above the geoid. [m]
    """

    name: str
    latitude: float
    longitude: float
    altitude: float


def station_variables(place: Place) -> tuple[VariableSpec, ...]:
    """
    Coordinates of the station and its coordinate reference system.

    Parameters
    ----------
    place : Place
        Where the station is.

    Returns
    -------
    variables : tuple of VariableSpec
        ``latitude``, ``longitude``, ``altitude``, ``station_name``, ``crs``.
    """
    rows: tuple[tuple[str, float, dict[str, Attribute]], ...] = (
        ("latitude", place.latitude, {"units": "degrees_north", "axis": "Y"}),
        ("longitude", place.longitude, {"units": "degrees_east", "axis": "X"}),
        ("altitude", place.altitude, {"units": "m", "positive": "up", "axis": "Z"}),
    )
    long_names = ("station latitude", "station longitude", "station altitude above the geoid")
    coordinates = tuple(
        _scalar(name, np.float64(value), {"standard_name": name, "long_name": text, **more})
        for (name, value, more), text in zip(rows, long_names, strict=True)
    )
    return (*coordinates, _station_name(place.name), _reference_system())


def _scalar(name: str, value: Any, attributes: Mapping[str, Attribute]) -> VariableSpec:
    return VariableSpec(name, (), np.asarray(value), attributes)


def _station_name(name: str) -> VariableSpec:
    return _scalar(
        "station_name",
        name,
        {
            "long_name": "station name",
            "standard_name": "platform_name",
            "cf_role": "timeseries_id",
        },
    )


def _reference_system() -> VariableSpec:
    return _scalar(
        "crs",
        np.int32(0),
        {
            "long_name": "coordinate reference system",
            "grid_mapping_name": "latitude_longitude",
            "semi_major_axis": 6378137.0,
            "inverse_flattening": 298.257223563,
            "longitude_of_prime_meridian": 0.0,
            "reference_ellipsoid_name": "WGS 84",
            "prime_meridian_name": "Greenwich",
            "horizontal_datum_name": "World Geodetic System 1984",
            "geographic_crs_name": "WGS 84",
        },
    )


def time_variables(
    starts: npt.ArrayLike, ends: npt.ArrayLike, interval: str
) -> tuple[VariableSpec, VariableSpec]:
    """
    Time coordinate at the start of each interval, and its bounds.

    Parameters
    ----------
    starts, ends : array-like, shape (time,)
        Both ends of the intervals. [s since 1970-01-01 UTC]
    interval : str
        Such as ``one-minute averaging interval``.

    Returns
    -------
    variables : tuple of VariableSpec
        ``time`` and ``time_bounds``, dimensions ``time`` and ``bound``.
    """
    start = np.asarray(starts, np.float64)
    bounds = np.stack([start, np.asarray(ends, np.float64)], axis=-1)
    attributes: dict[str, Attribute] = {
        "standard_name": "time",
        "long_name": f"start of the {interval} (UTC)",
        "axis": "T",
        "units": EPOCH,
        "calendar": "standard",
        "bounds": "time_bounds",
    }
    return (
        VariableSpec("time", ("time",), start, attributes),
        VariableSpec("time_bounds", ("time", "bound"), bounds),
    )


def series_attributes(
    attributes: Mapping[str, Attribute], content: Content
) -> dict[str, Attribute]:
    """
    Attributes of a series at the station, with what all of them share.

    Parameters
    ----------
    attributes : dict
        The variable's own; entries that are the empty text are left out.
    content : str
        ISO 19115-1 coverage content type.

    Returns
    -------
    attributes : dict
        With coordinates, grid mapping and content type.
    """
    own = {name: value for name, value in attributes.items() if not _is_empty(value)}
    shared: dict[str, Attribute] = {"coordinates": COORDINATES, "grid_mapping": "crs"}
    return {**own, **shared, "coverage_content_type": content}


def _is_empty(value: Attribute) -> bool:
    return isinstance(value, str) and not value


def float_series(
    name: str, values: npt.ArrayLike, attributes: Mapping[str, Attribute], content: Content
) -> VariableSpec:
    """
    A 32-bit series along time, NaN where missing.

    Parameters
    ----------
    name : str
        Variable name.
    values : array-like, shape (time,)
        Values.
    attributes : dict
        The variable's own attributes.
    content : str
        ISO 19115-1 coverage content type.

    Returns
    -------
    variable : VariableSpec
        The series.
    """
    return VariableSpec(
        name,
        ("time",),
        np.asarray(values),
        series_attributes(attributes, content),
        "f4",
        np.nan,
    )


def at_position(quantity: Quantity, position: str) -> Quantity:
    """
    The quantity as measured at one position, for a position archived beside the primary one.

    Parameters
    ----------
    quantity : Quantity
        Row of the vocabulary.
    position : str
        Such as ``global_2``; becomes the variable name.

    Returns
    -------
    quantity : Quantity
        The same with the position as name.
    """
    return replace(quantity, name=position, long_name=f"{quantity.long_name}, at {position}")


def sun_angles(zenith: npt.ArrayLike, azimuth: npt.ArrayLike) -> tuple[VariableSpec, VariableSpec]:
    """
    Angles of the sun at the nominal middle of each interval.

    Parameters
    ----------
    zenith : array-like, shape (time,)
        Without refraction. [degree]
    azimuth : array-like, shape (time,)
        Clockwise from north. [degree]

    Returns
    -------
    variables : tuple of VariableSpec
        ``solar_zenith_angle`` and ``solar_azimuth_angle``.
    """
    rows = (
        ("solar_zenith_angle", "without refraction", zenith),
        ("solar_azimuth_angle", "clockwise from north", azimuth),
    )
    zenith_spec, azimuth_spec = (
        float_series(
            name,
            values,
            {
                "standard_name": name,
                "long_name": f"{name.replace('_', ' ')} at the middle of the interval, {how}",
                "units": "degree",
                "cell_methods": "time: mean (at the nominal middle of the interval)",
            },
            "referenceInformation",
        )
        for name, how, values in rows
    )
    return zenith_spec, azimuth_spec


def clock_residual(logger: str, values: npt.ArrayLike) -> VariableSpec:
    """
    What remains of a logger's clock error after moving labels by whole intervals.

    Parameters
    ----------
    logger : str
        Name of the logger.
    values : array-like, shape (time,)
        True start of the reading less the label given to it. [s]

    Returns
    -------
    variable : VariableSpec
        ``clock_residual_<logger>``.
    """
    return float_series(
        f"clock_residual_{logger}",
        values,
        {
            "long_name": f"true start of the reading of logger {logger} less the start of interval",
            "units": "s",
        },
        "auxiliaryInformation",
    )


def instrument_container(position: str, kind: str) -> VariableSpec:
    """
    Container for what is constant about the instrument at a position.

    Parameters
    ----------
    position : str
        Such as ``global_1``.
    kind : str
        Such as ``thermopile pyranometer``.

    Returns
    -------
    variable : VariableSpec
        ``instrument_<position>``, which holds no data; serial numbers stand in the tables, so that
        nothing becomes wrong when months are joined.
    """
    return _scalar(
        f"instrument_{position}",
        np.int8(0),
        {
            "long_name": f"instrument at position {position}",
            "instrument_type": kind,
            "position": position,
            "comment": (
                "container, holds no data; the individual instruments, their calibrations and"
                " times are the rows with this position in the tables of the group /metadata"
            ),
        },
    )
