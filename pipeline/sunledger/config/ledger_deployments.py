"""Checks on what stands where.

These are rules of common field practice; they have no published source.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from sunledger.config.ledger_view import (
    Finding,
    LedgerView,
    overlap,
    written_period,
    written_time,
)
from sunledger.config.messages import not_among
from sunledger.config.models.fieldlog import Deployment, Removal
from sunledger.config.models.instruments import RADIOMETER_KINDS
from sunledger.config.record import standing_for
from sunledger.vocabulary import LINEAR

_UNSHADED = ("ghi", "swu", "dni", *LINEAR)


def unknown_serial_number(view: LedgerView) -> Iterator[Finding]:
    """
    Deployments of instruments that the inventory does not hold.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the deployment.
    """
    known = tuple(view.instruments)
    for entry in view.of_kind(Deployment):
        if entry.instrument not in view.instruments:
            why = f"no such serial number in instruments.yaml; {not_among(entry.instrument, known)}"
            yield view.at_entry(entry, "instrument", why)


def two_instruments_at_one_position(view: LedgerView) -> Iterator[Finding]:
    """
    Deployments that overlap at one position.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the later deployment, naming the earlier.
    """
    for first, second in combinations(view.periods, 2):
        if first.entry.position == second.entry.position and overlap(first, second):
            yield view.at_entry(
                second.entry,
                "position",
                f"{second.entry.position} is taken by {first.entry.instrument} of"
                f" {view.named(first.entry)}, {written_period(first)}; end that deployment"
                f" before {second.entry.instrument} begins ({written_time(second.start)})",
            )


def one_instrument_at_two_positions(view: LedgerView) -> Iterator[Finding]:
    """
    Deployments of one instrument that overlap at different positions.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the later deployment, naming the earlier.
    """
    for first, second in combinations(view.periods, 2):
        same = first.entry.instrument == second.entry.instrument
        if same and first.entry.position != second.entry.position and overlap(first, second):
            yield view.at_entry(
                second.entry,
                "instrument",
                f"{second.entry.instrument} still stands at {first.entry.position} by"
                f" {view.named(first.entry)}, {written_period(first)};"
                " an instrument stands at one position at a time",
            )


def kind_does_not_fit(view: LedgerView) -> Iterator[Finding]:
    """
    Instruments that cannot measure the quantity of their position.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the deployment.
    """
    for entry in view.of_kind(Deployment):
        quantity = view.positions.get(entry.position, "")
        instrument = view.instruments.get(entry.instrument)
        allowed = RADIOMETER_KINDS.get(quantity)
        if instrument is not None and allowed is not None and instrument.kind not in allowed:
            yield view.at_entry(
                entry,
                "instrument",
                f"cannot measure {quantity} at {entry.position}; allowed: {', '.join(allowed)}"
                f" (got {entry.instrument}, a {instrument.kind})",
            )


def diffuse_unshaded(view: LedgerView) -> Iterator[Finding]:
    """
    Deployments without shade at a position that measures diffuse irradiance.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the deployment.
    """
    for entry in view.of_kind(Deployment):
        if view.positions.get(entry.position) == "dhi" and entry.shade == "none":
            yield view.at_entry(
                entry,
                "shade",
                f"{entry.position} measures dhi, which needs a shade;"
                " allowed: disc, ball, band (got none)",
            )


def shaded_where_the_sun_is_measured(view: LedgerView) -> Iterator[Finding]:
    """
    Deployments with a shade at a position whose quantity includes the direct sun.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the deployment.
    """
    for entry in view.of_kind(Deployment):
        quantity = view.positions.get(entry.position)
        if quantity in _UNSHADED and entry.shade != "none":
            yield view.at_entry(
                entry,
                "shade",
                f"{entry.position} measures {quantity}, which is never shaded;"
                f" allowed: none (got {entry.shade})",
            )


def serial_number_never_read(view: LedgerView) -> Iterator[Finding]:
    """
    Enclosed instruments whose serial number nobody read on site.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the deployment.
    """
    for entry in view.of_kind(Deployment):
        if not entry.serial_read_on_site:
            yield view.at_entry(
                entry,
                "serial_read_on_site",
                f"the serial number of {entry.instrument} was never read on site; read it when"
                " the housing is next open, since an exchange unnoticed gives wrong coefficients",
            )


def removal_of_unknown_deployment(view: LedgerView) -> Iterator[Finding]:
    """
    Removals that name no deployment.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the removal.
    """
    known = tuple(e.id for e in view.config.fieldlog.entries if isinstance(e, Deployment))
    for entry in view.of_kind(Removal):
        if entry.deployment not in known:
            why = f"no deployment has this id; {not_among(entry.deployment, known, 'none yet')}"
            yield view.at_entry(entry, "deployment", why)


def removal_contradicts_deployment(view: LedgerView) -> Iterator[Finding]:
    """
    Removals before their deployment began, or at another time than its ``until``.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the removal, naming the deployment.
    """
    deployments = {e.id: e for e in view.of_kind(Deployment)}
    current = standing_for(view.config.fieldlog)
    for entry in view.of_kind(Removal):
        deployment = deployments.get(current.get(entry.deployment, ""))
        if deployment is None:
            continue
        if entry.time <= deployment.time:
            why = f"must be later than {written_time(deployment.time)}, the start of"
        elif deployment.until is not None and entry.time != deployment.until:
            why = f"contradicts until, {written_time(deployment.until)}, of"
        else:
            continue
        got = f"(got {written_time(entry.time)})"
        yield view.at_entry(entry, "time", f"{why} {view.named(deployment)} {got}")
