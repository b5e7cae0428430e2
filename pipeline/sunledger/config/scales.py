"""On which reference scale irradiances are stated, and what certificates of other scales become."""

from __future__ import annotations

from sunledger.config.models.instruments import Calibration
from sunledger.config.models.processing import CalibrateSettings
from sunledger.config.models.scales import ScaleFamily
from sunledger.vocabulary import LONGWAVE


def family_of(quantity: str) -> ScaleFamily:
    """
    Family of scales to which a quantity belongs.

    Parameters
    ----------
    quantity : str
        Radiometric quantity.

    Returns
    -------
    family : str
        ``longwave`` or ``shortwave``.
    """
    return "longwave" if quantity in LONGWAVE else "shortwave"


def scale_of(certificate: Calibration, quantity: str, settings: CalibrateSettings) -> str:
    """
    Scale on which values with a certificate are stated.

    Parameters
    ----------
    certificate : Calibration
        In force.
    quantity : str
        What is measured.
    settings : CalibrateSettings
        May ask for one scale for all.

    Returns
    -------
    scale : str
        The one asked for, else the certificate's own.
    """
    return settings.expressed_in.get(family_of(quantity), certificate.reference_scale)


def scale_factor(
    certificate: Calibration, quantity: str, settings: CalibrateSettings
) -> float | None:
    """
    Factor from a certificate's scale to the one asked for.

    Parameters
    ----------
    certificate : Calibration
        With its reference scale and date.
    quantity : str
        What is measured.
    settings : CalibrateSettings
        Scales and table of factors.

    Returns
    -------
    factor : float or None
        On irradiance; None where the table has no row for these scales and this date. [1]
    """
    wanted = scale_of(certificate, quantity, settings)
    if wanted == certificate.reference_scale:
        return 1.0
    for row in settings.scale_factors:
        if (row.scale, row.to) != (certificate.reference_scale, wanted):
            continue
        early = row.valid_from is not None and certificate.date < row.valid_from
        late = row.until is not None and certificate.date >= row.until
        if not (early or late):
            return row.factor
    return None
