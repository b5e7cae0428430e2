"""Columns of the history tables: names, meanings and units; and when a row bears on a file."""

from __future__ import annotations

from typing import Any

from sunledger.config.models.base import FAR_FUTURE
from sunledger.config.record import DeploymentPeriod

NAN = float("nan")

Column = tuple[str, str, dict[str, str]]
Row = dict[str, Any]

OPEN_END = "missing: still so at the end of the period of this file"


DEPLOYMENT_COLUMNS: tuple[Column, ...] = (
    ("deployment_id", "identifier of the entry in the field log, never reused", {}),
    ("position", "position on the platform", {}),
    ("quantity", "quantity measured there", {}),
    ("serial_number", "serial number of the instrument", {}),
    ("instrument_kind", "kind of instrument", {}),
    ("iso_class", "class after ISO 9060:2018, where there is one", {}),
    ("ventilated", "whether it stood on a ventilator", {}),
    ("shade", "what shaded it: none, disc, ball or band", {}),
    ("deployment_start", "when the instrument was put up", {"units": "time"}),
    ("deployment_end", "when it was taken down", {"units": "time", "comment": OPEN_END}),
)


_SENSITIVITY = {
    "units": "uV W-1 m2",
    "comment": "rows of photosynthetic sensors are in uV umol-1 m2 s, as sensitivity_unit says",
}

CALIBRATION_COLUMNS: tuple[Column, ...] = (
    ("certificate", "number of the certificate", {}),
    ("certified_serial_number", "serial number of the instrument", {}),
    ("calibration_time", "date of the calibration (00:00 UTC)", {"units": "time"}),
    ("sensitivity", "sensitivity as left", _SENSITIVITY),
    ("sensitivity_as_found", "sensitivity as found, where known", _SENSITIVITY),
    ("sensitivity_unit", "unit of both sensitivities", {}),
    (
        "expanded_uncertainty",
        "relative expanded uncertainty of the sensitivity",
        {"units": "percent"},
    ),
    ("coverage_factor", "coverage factor of that uncertainty", {"units": "1"}),
    ("method", "method of calibration", {}),
    ("reference_scale", "scale to which the sensitivity refers", {}),
    ("expressed_on_scale", "scale on which the values of this file are stated", {}),
    ("expression_factor", "from the one scale to the other, on irradiance", {"units": "1"}),
    ("traceability", "chain to the reference", {}),
    ("laboratory", "laboratory that made the calibration", {}),
)


INPUT_COLUMNS: tuple[Column, ...] = (
    ("input_certificate", "number of the certificate", {}),
    ("input_serial_number", "serial number of the logger, multiplexer or shunt", {}),
    ("input_place", "where the device stands", {}),
    ("input_name", "name of its input", {}),
    ("input_positions", "positions whose signals pass it, blank-separated", {}),
    ("input_calibration_time", "date of the calibration (00:00 UTC)", {"units": "time"}),
    ("input_gain", "true signal over indicated, the zero taken off", {"units": "1"}),
    ("input_zero", "indicated with a short circuit at the input", {"units": "uV"}),
    (
        "input_gain_expanded_uncertainty",
        "relative expanded uncertainty of the gain, k = 2; 0: not stated",
        {"units": "percent"},
    ),
    ("input_traceability", "chain to the reference", {}),
    ("input_laboratory", "laboratory that made the calibration", {}),
)


LEVELLING_COLUMNS: tuple[Column, ...] = (
    ("levelling_id", "identifier of the entry in the field log, never reused", {}),
    ("levelling_time", "when the level was checked", {"units": "time"}),
    ("levelled_position", "position of the instrument", {}),
    ("tilt_found", "tilt from the horizontal as found", {"units": "degree"}),
    ("tilt_found_azimuth", "azimuth it leaned to as found", {"units": "degree"}),
    ("tilt_left", "tilt from the horizontal as left", {"units": "degree"}),
    ("tilt_after_tightening", "tilt after the screws were tightened", {"units": "degree"}),
    ("tightened", "whether the fixing screws were tightened", {}),
    ("levelling_role", "who checked, by role", {}),
    ("levelling_note", "note of the observer", {}),
)


CLOCK_COLUMNS: tuple[Column, ...] = (
    ("clock_check_id", "identifier of the entry in the field log, never reused", {}),
    ("clock_check_time", "true time of the check", {"units": "time"}),
    ("clock_check_logger", "logger", {}),
    ("clock_error_found", "logger minus reference as found", {"units": "s"}),
    (
        "clock_error_left",
        "logger minus reference as left, where the clock was set",
        {"units": "s"},
    ),
)


EVENT_COLUMNS: tuple[Column, ...] = (
    ("event_id", "identifier of the entry in the field log, never reused", {}),
    ("event_type", "what was done", {}),
    ("event_start", "when it began", {"units": "time"}),
    ("event_end", "when it ended", {"units": "time", "comment": "missing: at once"}),
    ("event_positions", "positions concerned, blank-separated; empty: all", {}),
    ("event_found", "as found", {}),
    ("event_left", "as left", {}),
    ("event_role", "who wrote it, by role", {}),
    ("event_note", "note of the observer", {}),
)


def touches(period: DeploymentPeriod, start: int, end: int) -> bool:
    """
    Whether a deployment shares an instant with the period of a file.

    Parameters
    ----------
    period : DeploymentPeriod
        The deployment.
    start, end : int
        Half-open. [s]

    Returns
    -------
    touches : bool
        Also where it lasts still.
    """
    return period.start < end and (FAR_FUTURE if period.end is None else period.end) > start
