"""What a model refuses, in words: field, what is allowed, what was found."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Literal

import pytest
from pydantic import Field, ValidationError

from sunledger.config.loading import load_model
from sunledger.config.messages import model_faults, nearest, not_among
from sunledger.config.models.base import Model
from sunledger.config.models.fieldlog import FieldLog
from sunledger.config.models.instruments import Inventory
from sunledger.config.models.processing import Processing
from sunledger.config.models.station import Station
from sunledger.config.models.workflow import Workflow
from sunledger.config.yaml_text import SourceLines
from sunledger.errors import ConfigError

KINDS: dict[str, type[Model]] = {
    "fieldlog": FieldLog,
    "instruments": Inventory,
    "processing": Processing,
    "station": Station,
    "workflow": Workflow,
}
TYPES = (
    "deployment, removal, level_check, clock_check, cleaning, desiccant, cable, ventilator,"
    " tracker_homing, tracker_alignment, shade_alignment, thermal_sensor_check, visit, power"
)

# File in bad_configs/models → how its fault reads behind the file's name.
FAULTS = {
    "fieldlog_alias_missing": ":2: entries[0] (osr-1).from: is missing",
    "fieldlog_alias_wrong": (
        ':4: entries[0] (osr-1).from: must be a UTC time such as "2031-03-25 12:30"'
        " (got '2031-02-30')"
    ),
    "fieldlog_blank_in_name": (
        ":6: entries[0] (osr-1).logger: must be a lower-case name such as global_1: letters,"
        " digits, _ (got 'Main Logger')"
    ),
    "fieldlog_correction_without_reason": (
        ":3: entries[1] (osr-2).reason: an entry that corrects another needs a reason"
    ),
    "fieldlog_corrects_unknown": (
        ":3: entries[0] (osr-1).corrects: osr-1 corrects osr-0, which is no earlier entry"
    ),
    "fieldlog_ends_before_it_begins": (":5: entries[0] (osr-1).until: must be later than from"),
    "fieldlog_id_twice": ":3: entries[1] (osr-1).id: id osr-1 is used twice; ids are permanent",
    "fieldlog_nothing_written": ":6: entries[0] (osr-1).logger: must be text (got nothing)",
    "fieldlog_number_for_text": (
        ':6: entries[0] (osr-1).deployment: must be text (got 7; quote it: "7")'
    ),
    "fieldlog_shade_not_allowed": (
        ":8: entries[0] (osr-1).shade: must be one of none, disc, ball, band;"
        " did you mean 'disc'? (got 'dics')"
    ),
    "fieldlog_text_for_number": ":7: entries[0] (osr-1).found: must be a number (got '3')",
    "fieldlog_text_for_true": (
        ":8: entries[0] (osr-1).tightened: must be true or false (got 'true')"
    ),
    "fieldlog_tilt_too_large": (
        ":9: entries[0] (osr-1).found.azimuth: must be less than 360.0 (got 360)"
    ),
    "fieldlog_two_faults_and_a_trap": ":8: entries[1] (osr-2).role: is missing",
    "fieldlog_type_missing": f":2: entries[0] (osr-1): 'type' is missing; allowed: {TYPES}",
    "fieldlog_unknown_field": (
        ":6: entries[0] (osr-1).positons: unknown field; allowed: id, corrects, reason, role, note,"
        " type, time, until, positions, found, left, soiled_since, soiling_bound, off_since;"
        " did you mean 'positions'?"
    ),
    "fieldlog_unknown_type": (
        f":3: entries[0] (osr-1).type: must be one of {TYPES}; did you mean 'cleaning'?"
        " (got 'cleening')"
    ),
    "fieldlog_word_for_list": ":7: entries[0] (osr-1).positions: must be a list (got 'global_1')",
    "instruments_certificate_date_twice": (
        ":15: instruments[0] (GL-01).calibrations[1] (C-GL-01-30).date: must be later than"
        " 2030-11-02, the date of C-x before it; calibrations stand in rising order of date, one a"
        " date (got 2030-11-02)"
    ),
    "instruments_certificates_out_of_order": (
        ":15: instruments[0] (GL-01).calibrations[1] (C-GL-01-30).date: must be later than"
        " 2031-11-02, the date of C-x before it"
    ),
    "instruments_kind_unknown": (
        ":63: instruments[5] (LG-01).kind: must be one of thermopile_pyranometer,"
        " black_and_white_pyranometer, pyrheliometer, pyrgeometer, ultraviolet_sensor,"
        " photosynthetic_sensor, air_sensor, logger, multiplexer, shunt, tracker,"
        " ventilator; did you mean 'logger'? (got 'datalogger')"
    ),
    "instruments_longwave_constants": (
        ":61: instruments[4] (LW-01).calibrations[0] (C-LW-01-30).longwave: philipona takes"
        " k1, k2, k3 (got k1)"
    ),
    "instruments_longwave_missing": ":50: instruments[4] (LW-01): 'longwave' belongs to every",
    "instruments_sensitivity_zero": (
        ":8: instruments[0] (GL-01).calibrations[0] (C-GL-01-30).sensitivity.as_left:"
        " must be greater than 0.0 (got 0)"
    ),
    "instruments_sensitivity_negative": (
        ":8: instruments[0] (GL-01).calibrations[0] (C-GL-01-30).sensitivity.as_left:"
        " must be greater than 0.0 (got -8.4)"
    ),
    "instruments_sensitivity_nan": (
        ":8: instruments[0] (GL-01).calibrations[0] (C-GL-01-30).sensitivity.as_left:"
    ),
    "instruments_serial_number_twice": (
        ":14: instruments[1] (GL-01).serial_number: serial numbers given twice: GL-01"
    ),
    "instruments_unit_wrong": (
        ":8: instruments[0] (GL-01).calibrations[0] (C-GL-01-30).sensitivity.unit:"
        " must be one of uV W-1 m2, uV umol-1 m2 s; did you mean 'uV W-1 m2'? (got 'mV W-1 m2')"
    ),
    "processing_unknown_grade_bit": (
        ":3: qc_flag.grades[0]: unknown bits over_rnge; allowed: missing, over_range, "
    ),
    "processing_unknown_setting": (
        ":2: checks.cleaning_pln: unknown field; allowed: cleaning_plan, level_plan,"
        " largest_drift, clock_reading_error, unclassed_non_stability;"
        " did you mean 'cleaning_plan'?"
    ),
    "station_interval_odd": (
        ":24: loggers.main.interval: must divide a minute, or be whole minutes that divide an hour"
    ),
    "station_latitude_out_of_range": ":5: latitude: must be at most 90.0 (got 146.8)",
    "station_layout_without_from": ":18: loggers.main: every later layout needs a 'from'",
    "station_meaning_key": (
        ":32: loggers.main.channels[5] (mode).meanings.x: must be a whole number (got 'x')"
    ),
    "station_no_channels": ":26: loggers.main.channels: needs at least 1 item(s)",
    "station_offset_wrong": (
        ':23: loggers.main.utc_offset: must be a quoted offset such as "+01:00" or "-03:30"'
        " (got '1h')"
    ),
    "station_quantity_unknown": (
        ":27: loggers.main.channels[0] (u_global): unknown quantity; allowed: ghi, dhi, dni, swu,"
        " lwd, lwu, gti, uv, ppfd, air_temperature, relative_humidity, air_pressure, wind_speed,"
        " wind_from_direction (got 'gih')"
    ),
    "station_unit_wrong": (
        ":27: loggers.main.channels[0] (u_global): unit must be one of uV, mV, V (got 'uA')"
    ),
    "workflow_month_wrong": ":7: months.first: must be a month such as \"2031-03\" (got '2031-3')",
    "workflow_stage_order": (
        ":7: stages: stages run in the order ingest, calibrate, time_correct, qc_flag, aggregate"
    ),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_fault_names_file_line_field_and_what_is_allowed(fault: str, bad_configs: Path) -> None:
    """Each wrong file is refused with a message that says where and what to write."""
    path = bad_configs / "models" / f"{fault}.yaml"
    with pytest.raises(ConfigError, match=re.escape(str(path) + FAULTS[fault])):
        load_model(path, KINDS[fault.partition("_")[0]])


def test_every_wrong_file_is_tested(bad_configs: Path) -> None:
    """No file in bad_configs/models is without its expectation."""
    assert {p.stem for p in (bad_configs / "models").iterdir()} == set(FAULTS)


def test_traps_and_model_faults_together_and_once(bad_configs: Path) -> None:
    """A trap is told once, not again as a wrong value, and hides nothing else."""
    with pytest.raises(ConfigError) as caught:
        load_model(bad_configs / "models" / "fieldlog_two_faults_and_a_trap.yaml", FieldLog)
    assert sorted((f.line, f.field) for f in caught.value.faults) == [
        (4, "entries[0] (osr-1).time"),
        (7, "entries[0] (osr-1).found"),
        (8, "entries[1] (osr-2).role"),
    ]


class _Inner(Model):
    begin: int = Field(alias="from")
    shade: Literal["disc", "ball"] = "disc"


class _Outer(Model):
    pair: tuple[int, _Inner] | None = None
    named: dict[str, _Inner] = Field(default_factory=dict)


def _messages(data: object) -> list[tuple[str, str]]:
    with pytest.raises(ValidationError) as caught:
        _Outer.model_validate(data)
    faults = model_faults(caught.value, _Outer, data, SourceLines("x.yaml", {}))
    return [(fault.field, fault.why) for fault in faults]


def test_fields_of_models_in_dicts_pairs_and_optional_values() -> None:
    """The allowed fields are found through every way of nesting, whatever a key is called."""
    assert _messages({"pair": [1, {"from": 2, "until": 3}]}) == [
        ("pair[1].until", "unknown field; allowed: from, shade")
    ]
    assert _messages({"named": {"shade": {"from": 2, "frm": 3}}}) == [
        ("named.shade.frm", "unknown field; allowed: from, shade; did you mean 'from'?")
    ]
    assert _messages({"named": {"from": {"from": 1, "shade": "bal"}}}) == [
        ("named.from.shade", "must be one of disc, ball; did you mean 'ball'? (got 'bal')")
    ]


def test_field_called_like_the_type_of_its_entry(tmp_path: Path) -> None:
    """The word that chose the kind of entry is not taken for the field of the same name."""
    path = tmp_path / "fieldlog.yaml"
    path.write_text("entries:\n  - id: a\n    type: deployment\n    deployment: b\n")
    with pytest.raises(ConfigError, match=r":4: entries\[0\] \(a\)\.deployment: unknown field"):
        load_model(path, FieldLog)


def test_blocks_and_long_values_are_not_printed_whole() -> None:
    """A message stays one readable line."""
    ((_, why),) = _messages({"named": {"a": {"from": "x" * 500}}})
    assert why.startswith("must be a whole number (got 'xxx")
    assert len(why) < 120
    assert _messages({"named": {"a": {"from": {"b": 1}}}})[0][1].endswith("(got a mapping)")


def test_nearest() -> None:
    """A hint is given only where a word is near."""
    assert nearest("positon", ("position", "time")) == "; did you mean 'position'?"
    assert nearest("zzz", ("position", "time")) == ""


def test_what_could_have_been_written() -> None:
    """The allowed words, the nearest, and what was given; or that there is none."""
    words = not_among("globl_1", ("global_1", "direct_1"))
    assert words == "allowed: global_1, direct_1; did you mean 'global_1'? (got globl_1)"
    assert not_among("x", (), "none yet") == "allowed: none yet (got x)"
