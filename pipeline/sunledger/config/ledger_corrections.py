"""Checks on what corrections and reference scales rest on.

These are rules of common field practice; the bound on the thermal offset stands with its source in
`physics/thermal_offset.py`.
"""

from __future__ import annotations

from collections.abc import Iterator

from sunledger.config.ledger_view import Finding, LedgerView
from sunledger.config.models.instruments import Instrument, ThermalOffset
from sunledger.config.scales import family_of, scale_factor, scale_of
from sunledger.physics.thermal_offset import largest_net_longwave_factor
from sunledger.vocabulary import LONGWAVE


def scales_mixed(view: LedgerView) -> Iterator[Finding]:
    """
    Certificates on another reference scale than the rest, without a factor between them.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the certificate. Only instruments that stand at a position count.
    """
    first: dict[str, str] = {}
    seen: set[str] = set()
    for period, instrument in view.radiometer_periods():
        quantity = view.positions.get(period.entry.position)
        if quantity is None or instrument.serial_number in seen:
            continue
        seen.add(instrument.serial_number)
        for index, certificate in enumerate(instrument.calibrations):
            scale = scale_of(certificate, quantity, view.choice)
            usual = first.setdefault(family_of(quantity), scale)
            known = scale_factor(certificate, quantity, view.choice) is not None
            if scale == usual and known:
                continue
            wanted = scale if scale == usual else usual
            yield view.at_instrument(
                instrument.serial_number,
                f"other {family_of(quantity)} values stand on {wanted}; give a factor in"
                " scale_factors and the scale in expressed_in (processing.yaml, calibrate)"
                f" (got {certificate.reference_scale})",
                index,
                "reference_scale",
            )


def thermal_offset_disagrees(view: LedgerView) -> Iterator[Finding]:
    """
    Thermal offsets to be corrected that the responsivity has absorbed, or may have.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the certificate, or where the pyrgeometer is named that does not stand there.
    """
    for instrument, model in _offsets(view):
        for index, certificate in enumerate(instrument.calibrations):
            if certificate.offset_in_responsivity != "removed":
                yield view.at_instrument(
                    instrument.serial_number,
                    "a thermal offset is corrected only with a responsivity that is free of it;"
                    " allowed: removed, or thermal_offset none for the instrument"
                    f" (got {certificate.offset_in_responsivity or 'nothing'})",
                    index,
                    "offset_in_responsivity",
                )
        if model.beside is not None and view.positions.get(model.beside) not in LONGWAVE:
            known = ", ".join(p for p, q in view.positions.items() if q in LONGWAVE) or "none"
            why = f"is no position of a pyrgeometer; allowed: {known} (got {model.beside})"
            yield view.at_instrument(instrument.serial_number, why, field="thermal_offset.beside")


def thermal_offset_beyond_class(view: LedgerView) -> Iterator[Finding]:
    """
    Offsets a W m-2 of net longwave that are larger than the instrument's class allows.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the instrument.
    """
    for instrument, model in _offsets(view):
        bound = largest_net_longwave_factor(instrument.iso_class or "C")
        if model.net_longwave > bound:
            yield view.at_instrument(
                instrument.serial_number,
                f"class {instrument.iso_class or 'C'} allows {bound:g} W m-2 a W m-2 of net"
                f" longwave (got {model.net_longwave:g})",
                field="thermal_offset.net_longwave",
            )


def _offsets(view: LedgerView) -> Iterator[tuple[Instrument, ThermalOffset]]:
    for instrument in view.config.inventory.instruments:
        model = instrument.thermal_offset
        if model is not None and model.method != "none":
            yield instrument, model
