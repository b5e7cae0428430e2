"""Which corrections a certificate, the inventory and the field log allow at a position."""

from __future__ import annotations

from dataclasses import dataclass

from sunledger.config.models.fieldlog import Deployment
from sunledger.config.models.instruments import Calibration, Instrument
from sunledger.config.models.processing import CalibrateSettings


@dataclass(frozen=True)
class OffsetModel:
    """
    How the thermal offset of a pyranometer is known.

    Parameters
    ----------
    method : str
        ``pyrgeometer`` or ``night``.
    beside : str or None
        Position of the pyrgeometer.
    constant : float
        [W m-2]
    net_longwave, dome_excess : float
        Offset a W m-2 of the pyrgeometer's thermopile term and of its dome's excess emission. [1]
    daylight_factor : float
        On the offset while the sun is up. [1]
    """

    method: str
    beside: str | None
    constant: float
    net_longwave: float
    dome_excess: float
    daylight_factor: float


@dataclass(frozen=True)
class Band:
    """
    A shade band with its sky-obstruction correction.

    Parameters
    ----------
    correction : str
        Name of the correction.
    width_over_radius : float
        [1]
    anisotropy : float
        Factor for the brighter sky near the sun. [1]
    expanded_uncertainty : float
        Of the corrected diffuse, relative, k = 2. [1]
    """

    correction: str
    width_over_radius: float
    anisotropy: float
    expanded_uncertainty: float


@dataclass(frozen=True)
class Directional:
    """
    Directional response of an instrument as deployed.

    Parameters
    ----------
    zeniths, azimuths : tuple of float
        Grid of the certificate. [degree]
    percent : tuple of tuple of float
        Deviation from the cosine, a row a zenith. [percent]
    mark_azimuth : float
        Toward which the certificate's azimuth 0 points. [degree]
    """

    zeniths: tuple[float, ...]
    azimuths: tuple[float, ...]
    percent: tuple[tuple[float, ...], ...]
    mark_azimuth: float


@dataclass(frozen=True)
class Corrections:
    """
    Corrections of one row of coefficients; empty where there is none.

    Parameters
    ----------
    polynomial : tuple of float
        Relative change of the sensitivity with temperature, by order. [K-1, K-2, ...]
    polynomial_range : tuple of float
        Lowest and highest temperature of the certificate. [degC]
    non_linearity : tuple of (float, float)
        Irradiance [W m-2] and deviation of the sensitivity [percent].
    directional : Directional or None
        Response to the beam.
    thermal_offset : OffsetModel or None
        Only where it agrees with how the responsivity was obtained.
    band : Band or None
        Of a shade band.
    """

    polynomial: tuple[float, ...] = ()
    polynomial_range: tuple[float, ...] = ()
    non_linearity: tuple[tuple[float, float], ...] = ()
    directional: Directional | None = None
    thermal_offset: OffsetModel | None = None
    band: Band | None = None


NO_CORRECTIONS = Corrections()


def at_temperature(settings: CalibrateSettings) -> bool:
    """
    Whether the temperature response is wanted.

    Parameters
    ----------
    settings : CalibrateSettings
        Settings of the stage.

    Returns
    -------
    wanted : bool
        By both of its settings.
    """
    return settings.temperature_response and "temperature_response" in settings.corrections


def corrections_of(
    instrument: Instrument,
    certificate: Calibration,
    entry: Deployment,
    settings: CalibrateSettings,
) -> Corrections:
    """
    Corrections of an instrument under one certificate as it is deployed.

    Parameters
    ----------
    instrument : Instrument
        From the inventory.
    certificate : Calibration
        In force.
    entry : Deployment
        How it stands.
    settings : CalibrateSettings
        Which corrections are wanted.

    Returns
    -------
    corrections : Corrections
        Without those that are not wanted.
    """
    wanted = settings.corrections
    warm = certificate.temperature_polynomial if at_temperature(settings) else None
    return Corrections(
        polynomial=warm.coefficients if warm else (),
        polynomial_range=(warm.lowest, warm.highest) if warm else (),
        non_linearity=certificate.non_linearity if "non_linearity" in wanted else (),
        directional=_directional(certificate, entry) if "directional_response" in wanted else None,
        thermal_offset=_offset(instrument, certificate) if "thermal_offset" in wanted else None,
        band=_band(entry) if "sky_obstruction" in wanted else None,
    )


def _directional(certificate: Calibration, entry: Deployment) -> Directional | None:
    table = certificate.directional_response
    if table is None or entry.shade != "none":  # behind a shade there is no beam
        return None
    return Directional(table.zeniths, table.azimuths, table.percent, entry.mark_azimuth)


def _offset(instrument: Instrument, certificate: Calibration) -> OffsetModel | None:
    """None unless the responsivity is free of the offset: taken off twice, it would be an error."""
    model = instrument.thermal_offset
    if model is None or model.method == "none" or certificate.offset_in_responsivity != "removed":
        return None
    return OffsetModel(**model.model_dump())


def _band(entry: Deployment) -> Band | None:
    if entry.band is None:
        return None
    band = entry.band
    ratio, uncertainty = band.width / band.radius, band.expanded_uncertainty / 100.0
    return Band(band.correction, ratio, band.anisotropy, uncertainty)
