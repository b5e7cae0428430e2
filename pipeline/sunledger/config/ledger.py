"""The ledger's rules: how a station's files must fit together.

They are the checks that a careful colleague makes before trusting a record: rules of common field
practice, without a published source. Errors stop a run; warnings are printed and the run goes on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

from sunledger.config import (
    ledger_certificates,
    ledger_clocks,
    ledger_corrections,
    ledger_deployments,
    ledger_names,
    ledger_paths,
    ledger_upkeep,
)
from sunledger.config.ledger_view import Finding, LedgerView, ledger_view
from sunledger.config.loading import LoadedWorkflow, StationConfig
from sunledger.config.models.checks import CheckSettings
from sunledger.config.models.processing import CalibrateSettings
from sunledger.errors import Fault


@dataclass(frozen=True)
class Rule:
    """
    One rule of the ledger.

    Parameters
    ----------
    find : callable
        Yields what breaks the rule.
    severity : str
        ``error`` or ``warning``.
    """

    find: Callable[[LedgerView], Iterator[Finding]]
    severity: Literal["error", "warning"]

    @property
    def name(self) -> str:
        """
        Name of the rule.

        Returns
        -------
        name : str
            That of its function.
        """
        return self.find.__name__


RULES: tuple[Rule, ...] = (
    Rule(ledger_deployments.unknown_serial_number, "error"),
    Rule(ledger_deployments.two_instruments_at_one_position, "error"),
    Rule(ledger_deployments.one_instrument_at_two_positions, "error"),
    Rule(ledger_deployments.kind_does_not_fit, "error"),
    Rule(ledger_deployments.diffuse_unshaded, "error"),
    Rule(ledger_deployments.shaded_where_the_sun_is_measured, "error"),
    Rule(ledger_deployments.removal_of_unknown_deployment, "error"),
    Rule(ledger_deployments.removal_contradicts_deployment, "error"),
    Rule(ledger_deployments.serial_number_never_read, "warning"),
    Rule(ledger_certificates.sensitivity_impossible, "error"),
    Rule(ledger_certificates.sensitivity_unusual, "warning"),
    Rule(ledger_certificates.no_certificate_before, "warning"),
    Rule(ledger_certificates.certificate_too_old, "warning"),
    Rule(ledger_certificates.recalibration_moved, "warning"),
    Rule(ledger_corrections.scales_mixed, "error"),
    Rule(ledger_corrections.thermal_offset_disagrees, "error"),
    Rule(ledger_corrections.thermal_offset_beyond_class, "warning"),
    Rule(ledger_upkeep.never_levelled_after_tightening, "warning"),
    Rule(ledger_upkeep.not_looked_at_after_tightening, "warning"),
    Rule(ledger_upkeep.cleaning_overdue, "warning"),
    Rule(ledger_upkeep.level_check_overdue, "warning"),
    Rule(ledger_clocks.unknown_logger, "error"),
    Rule(ledger_clocks.checks_contradict, "error"),
    Rule(ledger_clocks.drift_impossible, "error"),
    Rule(ledger_clocks.check_after_now, "error"),
    Rule(ledger_clocks.disciplined_clock_in_error, "warning"),
    Rule(ledger_paths.passage_of_unknown_place, "error"),
    Rule(ledger_paths.input_without_certificate, "warning"),
    Rule(ledger_paths.input_certificate_too_old, "warning"),
    Rule(ledger_names.unknown_position, "error"),
    Rule(ledger_names.corrected_twice, "error"),
    Rule(ledger_names.channel_of_unknown_position, "error"),
    Rule(ledger_names.primary_of_unknown_position, "error"),
    Rule(ledger_names.review_of_unknown_quantity, "error"),
    Rule(ledger_names.accepted_of_unknown_target, "error"),
    Rule(ledger_names.logger_not_in_inventory, "warning"),
    Rule(ledger_names.entry_after_now, "warning"),
)


def check_station(
    config: StationConfig,
    settings: CheckSettings,
    as_of: int | None = None,
    choice: CalibrateSettings | None = None,
) -> list[Fault]:
    """
    Everything in a station's files that does not fit together.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    settings : CheckSettings
        When to warn.
    as_of : int or None
        The run's "now"; without it, nothing is said about time since the last entry. [s]
    choice : CalibrateSettings or None
        How certificates are chosen and used; None for the defaults.

    Returns
    -------
    faults : list of Fault
        Of both severities, by file and line.
    """
    view = ledger_view(config, settings, as_of, choice)
    return sorted(
        Fault(found.path, found.line, found.field, found.why, rule.severity)
        for rule in RULES
        for found in rule.find(view)
    )


def check_workflow(loaded: LoadedWorkflow) -> list[Fault]:
    """
    Everything that does not fit together in any station of a run plan.

    Parameters
    ----------
    loaded : LoadedWorkflow
        The plan with its stations.

    Returns
    -------
    faults : list of Fault
        Of both severities, station by station.
    """
    settings, as_of = loaded.processing.checks, loaded.workflow.as_of
    choice = loaded.processing.calibrate
    return [f for config in loaded.stations for f in check_station(config, settings, as_of, choice)]
