"""The ledger's rules: each breaks on its own small record, with its severity and message.

The rules are common field practice without a published source; the tests hold the words and places
that a technician or data manager needs to put the record right.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from sunledger.config.ledger import RULES, check_station, check_workflow
from sunledger.config.ledger_view import ledger_view
from sunledger.config.loading import StationConfig, load_station, load_workflow
from sunledger.config.models.base import parse_utc
from sunledger.config.models.checks import CheckSettings

AS_OF = parse_utc("2031-02-20")
POSITIONS = "global_1, diffuse_1, direct_1, long_1"

# Folder in bad_configs/ledger, named for the rule → severity and every fault of that rule.
FAULTS = {
    "unknown_serial_number": (
        "error",
        "fieldlog.yaml:5: entries[0] (tst-1).instrument: no such serial number"
        " in instruments.yaml; allowed: GL-01, GL-02, DF-01, DR-01, LW-01, LG-01, TR-01;"
        " did you mean 'GL-02'? (got GL-0l)",
    ),
    "two_instruments_at_one_position": (
        "error",
        "fieldlog.yaml:12: entries[1] (tst-2).position: global_1 is taken by GL-01 of tst-1"
        " (fieldlog.yaml:2), 2031-01-10 09:00 until 2031-01-20 00:01; end that deployment before"
        " GL-02 begins (2031-01-20 00:00)",
    ),
    "one_instrument_at_two_positions": (
        "error",
        "fieldlog.yaml:11: entries[1] (tst-2).instrument: GL-01 still stands at global_1 by tst-1"
        " (fieldlog.yaml:2), 2031-01-10 09:00 until now; an instrument stands at one position"
        " at a time",
    ),
    "kind_does_not_fit": (
        "error",
        "fieldlog.yaml:5: entries[0] (tst-1).instrument: cannot measure dni at direct_1;"
        " allowed: pyrheliometer (got GL-01, a thermopile_pyranometer)",
        "fieldlog.yaml:11: entries[1] (tst-2).instrument: cannot measure lwd at long_1;"
        " allowed: pyrgeometer (got DR-01, a pyrheliometer)",
        "fieldlog.yaml:17: entries[2] (tst-3).instrument: cannot measure ghi at global_1;"
        " allowed: thermopile_pyranometer, black_and_white_pyranometer (got TR-01, a tracker)",
    ),
    "diffuse_unshaded": (
        "error",
        "fieldlog.yaml:2: entries[0] (tst-1).shade: diffuse_1 measures dhi, which needs a shade;"
        " allowed: disc, ball, band (got none)",
    ),
    "shaded_where_the_sun_is_measured": (
        "error",
        "fieldlog.yaml:8: entries[0] (tst-1).shade: global_1 measures ghi, which is never shaded;"
        " allowed: none (got disc)",
    ),
    "removal_of_unknown_deployment": (
        "error",
        "fieldlog.yaml:12: entries[1] (tst-2).deployment: no deployment has this id;"
        " allowed: tst-1; did you mean 'tst-1'? (got tst-l)",
    ),
    "removal_contradicts_deployment": (
        "error",
        "fieldlog.yaml:10: entries[1] (tst-2).time: must be later than 2031-01-10 09:00, the start"
        " of tst-1 (fieldlog.yaml:2) (got 2031-01-09 00:00)",
        "fieldlog.yaml:22: entries[3] (tst-4).time: contradicts until, 2031-02-10 00:00, of tst-3"
        " (fieldlog.yaml:13) (got 2031-02-11 00:00)",
    ),
    "serial_number_never_read": (
        "warning",
        "fieldlog.yaml:9: warning: entries[0] (tst-1).serial_read_on_site: the serial number of"
        " GL-01 was never read on site; read it when the housing is next open, since an exchange"
        " unnoticed gives wrong coefficients",
    ),
    "sensitivity_impossible": (
        "error",
        "instruments.yaml:8: instruments[0] (GL-01).calibrations[0] (C-GL-01-30)"
        ".sensitivity.as_left: impossible for a thermopile_pyranometer; expected 5 to 20"
        " uV W-1 m2; is it in another unit, such as mV per kW m-2 or V? (got 8400)",
    ),
    "sensitivity_unusual": (
        "warning",
        "instruments.yaml:8: warning: instruments[0] (GL-01).calibrations[0] (C-GL-01-30)"
        ".sensitivity.as_left: unusual for a thermopile_pyranometer; expected 5 to 20 uV W-1 m2;"
        " compare with the certificate (got 28.4)",
    ),
    "no_certificate_before": (
        "warning",
        "fieldlog.yaml:5: warning: entries[0] (tst-1).instrument: GL-01 has no certificate before"
        " 2030-11-01 00:00 (first certificate: 2030-11-02); until then there are voltages and no"
        " irradiance",
    ),
    "certificate_too_old": (
        "warning",
        "fieldlog.yaml:5: warning: entries[0] (tst-001).instrument: certificate C-GL-01-30 of"
        " GL-01, dated 2029-01-25, is older than 730 days from 2031-01-25 00:00 on",
    ),
    "recalibration_moved": (
        "warning",
        "instruments.yaml:16: warning: instruments[0] (GL-01).calibrations[1] (C-GL-01-30)"
        ".sensitivity.as_left: moved by +2.44 % in 2.0 years since C-GL-01-28; its class allows"
        " 0.8 % a year; find the cause, and enter a break if it was repaired or adjusted",
    ),
    "never_levelled_after_tightening": (
        "warning",
        "fieldlog.yaml:6: warning: entries[0] (tst-1).position: no level check after tightening is"
        " recorded for GL-01 at global_1; tightening moves the bubble, so look once more",
    ),
    "not_looked_at_after_tightening": (
        "warning",
        "fieldlog.yaml:8: warning: entries[1] (tst-2).after_tightening: global_1 was levelled and"
        " tightened, but not looked at after tightening; the level it was left with is not known",
    ),
    "cleaning_overdue": (
        "warning",
        "fieldlog.yaml:17: warning: entries[2] (tst-3).time: no cleaning of global_1 is recorded"
        " from 2030-12-01 00:00 to 2031-01-15 00:00, 45 days; the plan is 31 (the longest of 2"
        " such gaps)",
    ),
    "level_check_overdue": (
        "warning",
        "fieldlog.yaml:10: warning: entries[1] (tst-2).time: no level check of global_1 is"
        " recorded from 2030-11-10 10:00 to 2031-02-20 00:00, 102 days; the plan is 92",
    ),
    "unknown_logger": (
        "error",
        "fieldlog.yaml:6: entries[0] (tst-1).logger: unknown logger; allowed: main;"
        " did you mean 'main'? (got mian)",
    ),
    "checks_contradict": (
        "error",
        "fieldlog.yaml:10: entries[1] (tst-2).time: tst-1 (fieldlog.yaml:2) is a clock check of"
        " main at the same time; allowed: one check at a time (correct the wrong one with"
        " `corrects`)",
    ),
    "drift_impossible": (
        "error",
        "fieldlog.yaml:14: entries[1] (tst-2).found: tst-1 (fieldlog.yaml:2) left the clock of"
        " main at +0 s; finding it at -3600 s means a drift of -7200 s a day; allowed: 3600; is a"
        " sign, a date or a clock set in between wrong or missing?",
    ),
    "check_after_now": (
        "error",
        "fieldlog.yaml:10: entries[1] (tst-2).time: this clock check of main lies after the run's"
        " as_of; allowed: up to 2031-02-20 00:00; is the year right, or as_of too"
        " early? (got 2032-02-01 00:00)",
    ),
    "disciplined_clock_in_error": (
        "warning",
        "fieldlog.yaml:64: warning: entries[8] (tst-009).found: the clock of main is kept by a"
        " time signal within 0.5 s, and such checks are not applied; was the signal lost?"
        " (got +45 s)",
    ),
    "passage_of_unknown_place": (
        "error",
        "station.yaml:32: loggers.main.channels[0].via[0].place: no logger, multiplexer or shunt"
        " stands there; allowed: main (got box)",
    ),
    "input_without_certificate": (
        "warning",
        "station.yaml:32: warning: loggers.main.channels[0].via[0]: input 1 of LG-01 at main has"
        " no certificate from 2031-01-10 09:00 until 2031-02-01 00:00; the signal of global_1 then"
        " counts as logged, with gain 1 and zero 0, and its minutes are marked"
        " correction_not_applied",
    ),
    "input_certificate_too_old": (
        "warning",
        "station.yaml:32: warning: loggers.main.channels[0].via[0]: certificate C-LG-01-1 of input"
        " 1 at main, dated 2029-01-30, is older than 730 days from 2031-01-30 00:00 on",
    ),
    "unknown_position": (
        "error",
        f"fieldlog.yaml:6: entries[0] (tst-1).positions: unknown position; allowed: {POSITIONS};"
        " did you mean 'global_1'? (got globall_1)",
        f"fieldlog.yaml:12: entries[1] (tst-2).position: unknown position; allowed: {POSITIONS};"
        " did you mean 'global_1'? (got global_9)",
        f"fieldlog.yaml:19: entries[2] (tst-3).position: unknown position; allowed: {POSITIONS};"
        " did you mean 'global_1'? (got global_2)",
    ),
    "corrected_twice": (
        "error",
        "fieldlog.yaml:6: entries[2] (tst-3).corrects: tst-1 is corrected by tst-2"
        " (fieldlog.yaml:3) already; allowed: corrects: tst-2 (got tst-1)",
    ),
    "channel_of_unknown_position": (
        "error",
        "station.yaml:31: loggers.main.channels[4].position: no channel gives the signal of this"
        f" position; allowed: {POSITIONS}; did you mean 'long_1'? (got long_2)",
        "station.yaml:32: loggers.main.channels[5].serves: no channel gives the signal of this"
        f" position; allowed: {POSITIONS}; did you mean 'diffuse_1'? (got difuse_1)",
    ),
    "primary_of_unknown_position": (
        "error",
        "station.yaml:35: primary[1].position: is no position that measures dhi; allowed:"
        " diffuse_1 (got global_1)",
    ),
    "review_of_unknown_quantity": (
        "error",
        "review.yaml:5: decisions[0] (r-1).quantities: not measured here; allowed: ghi, dhi, dni,"
        f" lwd, {POSITIONS} (got swu)",
    ),
    "logger_not_in_inventory": (
        "warning",
        "station.yaml:19: warning: loggers.main.serial_number: instruments.yaml has no logger with"
        " this serial number; it has LG-01; did you mean 'LG-01'? (got LG-07)",
    ),
    "scales_mixed": (
        "error",
        "instruments.yaml:35: instruments[2] (DF-01).calibrations[0]"
        " (C-DF-01-30).reference_scale: other shortwave values stand on invented scale;"
        " give a factor in scale_factors and the scale in expressed_in (processing.yaml,"
        " calibrate) (got older invented scale)",
    ),
    "thermal_offset_disagrees": (
        "error",
        "instruments.yaml:5: instruments[0] (GL-01).thermal_offset.beside: is no"
        " position of a pyrgeometer; allowed: long_1 (got direct_1)",
        "instruments.yaml:7: instruments[0] (GL-01).calibrations[0]"
        " (C-GL-01-30).offset_in_responsivity: a thermal offset is corrected only with a"
        " responsivity that is free of it; allowed: removed, or thermal_offset none for"
        " the instrument (got nothing)",
    ),
    "thermal_offset_beyond_class": (
        "warning",
        "instruments.yaml:5: warning: instruments[0]"
        " (GL-01).thermal_offset.net_longwave: class A allows 0.035 W m-2 a W m-2 of net"
        " longwave (got 0.05)",
    ),
    "accepted_of_unknown_target": (
        "error",
        "review.yaml:6: accepted_findings[0] (a-1).targets: not at this station; allowed:"
        f" {POSITIONS} (got main)",
    ),
    "entry_after_now": (
        "warning",
        "fieldlog.yaml:4: warning: entries[0] (tst-1).time: lies after 2031-02-20 00:00, the run's"
        " as_of; is the year right? (got 2032-02-01 00:00)",
    ),
}


def _faults(config: StationConfig) -> list[str]:
    faults = check_station(config, CheckSettings(), AS_OF)
    return [str(fault).replace(f"{config.folder}/", "") for fault in faults]


@pytest.mark.parametrize("fault", FAULTS)
def test_rule_names_place_and_remedy(
    fault: str, station_with: Callable[[str], StationConfig]
) -> None:
    """Each rule reports its fault with severity, file, line, field and what is allowed."""
    severity, *expected = FAULTS[fault]
    config = station_with(fault)
    rule = next(rule for rule in RULES if rule.name == fault)
    found = list(rule.find(ledger_view(config, CheckSettings(), AS_OF)))
    assert rule.severity == severity
    assert len(found) == len(expected)
    assert set(expected) <= set(_faults(config))


@pytest.mark.parametrize("fault", FAULTS)
def test_one_error_is_not_reported_as_another(
    fault: str, station_with: Callable[[str], StationConfig]
) -> None:
    """A record with one wrong thing has no error but those of its rule."""
    severity, *expected = FAULTS[fault]
    errors = [text for text in _faults(station_with(fault)) if ": warning: " not in text]
    assert sorted(errors) == sorted(expected if severity == "error" else [])


def test_every_rule_has_its_wrong_record(bad_configs: Path) -> None:
    """No rule is without a record that breaks it, and no record without its rule."""
    assert {p.name for p in (bad_configs / "ledger").iterdir()} == set(FAULTS)
    assert {rule.name for rule in RULES} == set(FAULTS)


def test_sound_station_breaks_no_rule(sound: Path) -> None:
    """A record kept well is passed without a word."""
    config = load_station(sound / "station")
    assert check_station(config, CheckSettings(), AS_OF) == []
    assert check_station(config, CheckSettings()) == []


def test_workflow_is_checked_with_its_own_settings_and_date(sound: Path) -> None:
    """The plan's settings and its as_of decide what is overdue."""
    assert check_workflow(load_workflow(sound / "workflow.yaml")) == []
    (sound / "processing.yaml").write_text("checks: {cleaning_plan: 7}\n", encoding="utf-8")
    overdue = check_workflow(load_workflow(sound / "workflow.yaml"))
    assert [fault.field for fault in overdue] == [
        f"entries[{i}] (tst-00{i + 1}).from" for i in range(4)
    ]
    assert {fault.severity for fault in overdue} == {"warning"}


def test_config_made_in_memory_is_checked_too(sound: Path) -> None:
    """Without files there are no lines, but the same faults."""
    loaded = load_station(sound / "station")
    made = StationConfig(loaded.station, loaded.inventory, loaded.fieldlog, loaded.review)
    faults = check_station(made, CheckSettings(cleaning_plan=7), AS_OF)
    assert [fault.line for fault in faults] == [0, 0, 0, 0]
