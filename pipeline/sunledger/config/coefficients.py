"""Choosing coefficients: which certificate's numbers hold at which position and when.

Using them is the calibrate stage's work; here nothing is computed from data.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

from sunledger.config.corrections import NO_CORRECTIONS, Corrections, at_temperature, corrections_of
from sunledger.config.loading import StationConfig
from sunledger.config.models.base import FAR_FUTURE, FAR_PAST, parse_utc
from sunledger.config.models.budget import Widths
from sunledger.config.models.instruments import Calibration, Instrument
from sunledger.config.models.processing import CalibrateSettings
from sunledger.config.record import DeploymentPeriod, deployment_periods
from sunledger.config.remembering import remembered
from sunledger.config.scales import scale_factor, scale_of

DAY = 86400


@dataclass(frozen=True)
class Coefficients:
    """
    One row: the coefficients at a position for the time of one certificate in one deployment.

    Parameters
    ----------
    position, quantity : str
        Where the instrument stands and what it measures there.
    deployment : str
        Identifier of the deployment's entry in the field log.
    serial_number, kind : str
        The instrument.
    iso_class : str or None
        ISO 9060 class.
    start, end : int
        Interval in which the row applies, clipped to the period asked for. [s]
    certificate : str
        Number of the certificate in force.
    sensitivity_points : tuple of (int, float)
        One pair of time [s] and sensitivity [uV W-1 m2] where it is constant, two where it is
        interpolated between certificates.
    relative_uncertainty : float
        Standard uncertainty of the sensitivity, relative. [1]
    certified : int
        Date of the certificate. [s]
    reference_temperature : float
        [degC]
    temperature_response : tuple of (float, float)
        Body temperature [degC] and deviation of the sensitivity [percent].
    equation : str or None
        Pyrgeometer equation.
    constants : tuple of (str, float)
        Its constants.
    thermistor : tuple of float or None
        Steinhart–Hart coefficients of the body and dome thermistors.
    response_time : float or None
        To 95 %. [s]
    ventilated : bool
        As deployed.
    shade : str
        ``none``, ``disc``, ``ball`` or ``band``.
    widths : tuple of (str, float, str, str)
        Uncertainty components that the station, else the certificate states: name, width, law and
        source.
    reference_scale : str
        On which the values stand: that of the certificate, or the one asked for.
    scale_factor : float
        From the certificate's scale to it, on irradiance. [1]
    corrections : Corrections
        What certificate, inventory and field log allow beyond the temperature table.
    laboratory : str
        Of the certificate.
    """

    position: str
    quantity: str
    deployment: str
    serial_number: str
    kind: str
    iso_class: str | None
    start: int
    end: int
    certificate: str
    sensitivity_points: tuple[tuple[int, float], ...]
    relative_uncertainty: float
    certified: int
    reference_temperature: float
    temperature_response: tuple[tuple[float, float], ...]
    equation: str | None
    constants: tuple[tuple[str, float], ...]
    thermistor: tuple[float, float, float] | None
    response_time: float | None
    ventilated: bool
    shade: str
    widths: tuple[tuple[str, float, str, str], ...] = ()
    reference_scale: str = ""
    scale_factor: float = 1.0
    corrections: Corrections = NO_CORRECTIONS
    laboratory: str = ""


def _crosses_break(instrument: Instrument, first: Calibration, second: Calibration) -> bool:
    return any(first.date <= b.date <= second.date for b in instrument.breaks)


def _points(
    instrument: Instrument,
    first: Calibration,
    second: Calibration | None,
    quantity: str,
    settings: CalibrateSettings,
) -> tuple[tuple[int, float], ...]:
    """Sensitivity against time from one certificate to the next, on the scale asked for."""
    factor = _factor(first, quantity, settings)
    begin = (parse_utc(first.date), first.sensitivity.as_left / factor)
    alone = settings.policy != "interpolated" or second is None
    if second is None or alone or _crosses_break(instrument, first, second):
        return (begin,)
    later = second.sensitivity
    found = (later.as_found or later.as_left) / _factor(second, quantity, settings)
    return (begin, (parse_utc(second.date), found))


def _factor(certificate: Calibration, quantity: str, settings: CalibrateSettings) -> float:
    """Factor on irradiance; scales are never mixed, so a missing one is an error."""
    factor = scale_factor(certificate, quantity, settings)
    if factor is None:
        wanted = scale_of(certificate, quantity, settings)
        raise ValueError(
            f"certificate {certificate.certificate} of {certificate.date}: no factor in"
            f" scale_factors from {certificate.reference_scale} to {wanted}"
        )
    return factor


@remembered(4096)
def certificate_spans(
    instrument: Instrument,
) -> tuple[tuple[Calibration, Calibration | None, int, int], ...]:
    """
    Certificates of an instrument with the next one and the time each is in force.

    Parameters
    ----------
    instrument : Instrument
        With its certificates in order of date.

    Returns
    -------
    spans : tuple of (certificate, next certificate, from, until)
        Half-open; the last is in force until further notice. [s]
    """
    chain = [*instrument.calibrations, None]
    return tuple(
        (
            first,
            second,
            parse_utc(first.date),
            parse_utc(second.date) if second else FAR_FUTURE,
        )
        for first, second in pairwise(chain)
        if first is not None
    )


def _widths(stated: Widths) -> tuple[tuple[str, float, str, str], ...]:
    return tuple((n, w.width, w.law, w.source) for n, w in sorted(stated.items()))


def _at_station(row: Coefficients, stated: Widths) -> Coefficients:
    """What the station says of a component goes before what the certificate says."""
    others = tuple(w for w in row.widths if w[0] not in stated)
    return replace(row, widths=tuple(sorted((*others, *_widths(stated)))))


def spans_by_policy(
    instrument: Instrument, settings: CalibrateSettings
) -> tuple[tuple[Calibration, Calibration | None, int, int], ...]:
    """
    Certificates in force by the policy of choice.

    Parameters
    ----------
    instrument : Instrument
        With its certificates.
    settings : CalibrateSettings
        Policy.

    Returns
    -------
    spans : tuple of (certificate, next certificate, from, until)
        As :func:`certificate_spans`; with policy ``fixed`` the one that is named, for all time,
        and none where none is named. [s]
    """
    if settings.policy != "fixed":
        return certificate_spans(instrument)
    name = settings.fixed_certificates.get(instrument.serial_number)
    return tuple(
        (c, None, FAR_PAST, FAR_FUTURE) for c in instrument.calibrations if c.certificate == name
    )


def _row(
    instrument: Instrument,
    period: DeploymentPeriod,
    quantity: str,
    span: tuple[Calibration, Calibration | None, int, int],
    settings: CalibrateSettings,
) -> Coefficients:
    first, second, begin, until = span
    longwave = first.longwave
    constants = longwave.model_dump(exclude={"equation"}, exclude_none=True) if longwave else {}
    thermistor = instrument.thermistor
    return Coefficients(
        position=period.entry.position,
        quantity=quantity,
        deployment=period.entry.id,
        serial_number=instrument.serial_number,
        kind=instrument.kind,
        iso_class=instrument.iso_class,
        start=max(begin, period.start),
        end=min(until, period.end if period.end is not None else FAR_FUTURE),
        certificate=first.certificate,
        sensitivity_points=_points(instrument, first, second, quantity, settings),
        relative_uncertainty=first.expanded_uncertainty / 100 / first.coverage_factor,
        certified=parse_utc(first.date),
        reference_temperature=first.reference_temperature,
        temperature_response=first.temperature_response if at_temperature(settings) else (),
        equation=longwave.equation if longwave else None,
        constants=tuple(sorted(constants.items())),
        thermistor=(thermistor.a, thermistor.b, thermistor.c) if thermistor else None,
        response_time=instrument.response_time,
        ventilated=period.entry.ventilated,
        shade=period.entry.shade,
        widths=_widths(first.budget),
        reference_scale=scale_of(first, quantity, settings),
        scale_factor=_factor(first, quantity, settings),
        corrections=corrections_of(instrument, first, period.entry, settings),
        laboratory=first.laboratory,
    )


def _clipped(row: Coefficients, start: int, end: int) -> Coefficients:
    return Coefficients(
        **{**row.__dict__, "start": max(row.start, start), "end": min(row.end, end)}
    )


def coefficient_rows(
    config: StationConfig, settings: CalibrateSettings, start: int, end: int
) -> tuple[Coefficients, ...]:
    """
    Coefficients of every radiometer position in a period.

    Parameters
    ----------
    config : StationConfig
        Positions, deployments and certificates.
    settings : CalibrateSettings
        Policy of choice.
    start, end : int
        Period. [s]

    Returns
    -------
    rows : tuple of Coefficients
        By time within each position; times without a row have no deployment or no certificate.
    """
    inside = [
        _clipped(row, start, end)
        for row in _every_row(config, settings)
        if row.start < end and row.end > start
    ]
    return tuple(
        sorted((row for row in inside if row.start < row.end), key=lambda r: (r.position, r.start))
    )


@remembered(64)
def _every_row(config: StationConfig, settings: CalibrateSettings) -> tuple[Coefficients, ...]:
    """Over the whole record, in the order of the deployments."""
    positions = config.station.positions()
    instruments = config.inventory.by_serial()
    rows = (
        _row(instruments[p.entry.instrument], p, positions[p.entry.position], span, settings)
        for p in deployment_periods(config.fieldlog)
        if p.entry.position in positions
        for span in spans_by_policy(instruments[p.entry.instrument], settings)
    )
    here = config.station.budget
    return tuple(_at_station(row, here.get(row.quantity, {})) for row in rows)
