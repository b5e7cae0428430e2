"""Rows of the history tables that certificates give, of instruments and of inputs."""

from __future__ import annotations

from collections.abc import Iterable

from sunledger.archive.history_columns import NAN, Row, touches
from sunledger.config.coefficients import spans_by_policy
from sunledger.config.loading import StationConfig
from sunledger.config.models.base import parse_utc
from sunledger.config.models.instruments import Calibration, Instrument
from sunledger.config.models.processing import CalibrateSettings
from sunledger.config.record import deployment_periods
from sunledger.config.scales import scale_factor, scale_of
from sunledger.config.signal_paths import InputOnWay, inputs_on_ways


def _calibration_row(
    instrument: Instrument, calibration: Calibration, settings: CalibrateSettings
) -> Row:
    sensitivity = calibration.sensitivity
    quantity = "lwd" if instrument.kind == "pyrgeometer" else "ghi"
    factor = scale_factor(calibration, quantity, settings)
    return {
        "certificate": calibration.certificate,
        "certified_serial_number": instrument.serial_number,
        "calibration_time": float(parse_utc(calibration.date)),
        "sensitivity": sensitivity.as_left,
        "sensitivity_as_found": NAN if sensitivity.as_found is None else sensitivity.as_found,
        "sensitivity_unit": sensitivity.unit,
        "expanded_uncertainty": calibration.expanded_uncertainty,
        "coverage_factor": calibration.coverage_factor,
        "method": calibration.method,
        "reference_scale": calibration.reference_scale,
        "expressed_on_scale": scale_of(calibration, quantity, settings),
        "expression_factor": NAN if factor is None else factor,
        "traceability": calibration.traceability,
        "laboratory": calibration.laboratory,
    }


def calibration_rows(
    config: StationConfig, start: int, end: int, settings: CalibrateSettings
) -> list[Row]:
    """
    Certificates whose coefficients bear on a period.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    start, end : int
        Period. [s]
    settings : CalibrateSettings
        Policy of choice: with ``interpolated`` the certificate after the period bears on it too.

    Returns
    -------
    rows : list of dict
        By the names of ``CALIBRATION_COLUMNS``, each certificate once.
    """
    instruments = config.inventory.by_serial()
    serials = [
        p.entry.instrument for p in deployment_periods(config.fieldlog) if touches(p, start, end)
    ]
    rows = []
    for serial in dict.fromkeys(serials):
        bearing: dict[str, Calibration] = {}
        for first, second, begin, until in spans_by_policy(instruments[serial], settings):
            if begin < end and until > start:
                bearing[first.certificate] = first
                if settings.policy == "interpolated" and second is not None:
                    bearing[second.certificate] = second
        rows += [_calibration_row(instruments[serial], c, settings) for c in bearing.values()]
    return rows


def _input_row(on_way: InputOnWay, positions: Iterable[str]) -> Row:
    certificate = on_way.certificate
    return {
        "input_certificate": certificate.certificate,
        "input_serial_number": on_way.serial_number,
        "input_place": on_way.place,
        "input_name": certificate.input,
        "input_positions": " ".join(positions),
        "input_calibration_time": float(parse_utc(certificate.date)),
        "input_gain": certificate.gain,
        "input_zero": certificate.zero,
        "input_gain_expanded_uncertainty": certificate.expanded_uncertainty,
        "input_traceability": certificate.traceability,
        "input_laboratory": certificate.laboratory,
    }


def input_rows(config: StationConfig, start: int, end: int) -> list[Row]:
    """
    Certificates of inputs of loggers, multiplexers and shunts that bear on a period.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    start, end : int
        Period. [s]

    Returns
    -------
    rows : list of dict
        By the names of ``INPUT_COLUMNS``, in the order of the channels whose signals pass them.
    """
    passed: dict[InputOnWay, list[str]] = {}
    for position, on_way, begin, until in inputs_on_ways(config):
        if begin < end and until > start:
            passed.setdefault(on_way, []).append(position)
    return [_input_row(way, dict.fromkeys(positions)) for way, positions in passed.items()]
