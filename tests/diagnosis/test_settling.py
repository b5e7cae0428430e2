"""Findings that speak of the same thing."""

from __future__ import annotations

from dataclasses import replace

from sunledger.diagnosis.findings import NAMES, Finding
from sunledger.diagnosis.settling import GIVES_WAY, GROSS, NEAR, SILENCED, settled


def found(name: str, onset: int | None = 0, target: str = "ghi") -> Finding:
    """A finding by name and onset."""
    return Finding("tst", "2031-06", name, target, 1.0, "%", 0.0, 2.0, "look", onset=onset)


def names(*findings: Finding) -> list[str]:
    """What stands."""
    return [f.name for f in settled(findings)]


def test_the_named_step_stands_and_the_vague_one_gives_way() -> None:
    """Where they begin near each other; two steps apart both stand."""
    vague = found("clock_or_east_lean_step")
    assert names(vague, found("level_step", NEAR)) == ["level_step"]
    both = ["clock_or_east_lean_step", "level_step"]
    assert names(vague, found("level_step", NEAR + 1)) == both
    assert names(vague) == ["clock_or_east_lean_step"]


def test_a_chain_leaves_the_one_that_knows_most() -> None:
    """Clock or lean, a sensitivity, and the cleaning that explains both."""
    chain = (found("clock_or_east_lean_step"), found("sensitivity_changed"), found("cleaning_step"))
    assert names(*chain) == ["cleaning_step"]


def test_a_loss_explains_what_changes_while_it_lasts() -> None:
    """Until the cleaning that ends it; nothing before it began or long after."""
    loss = replace(found("soiling_drift", 10 * NEAR), evidence={"until": 15 * NEAR})
    for onset, stands in ((8, True), (9, False), (13, False), (16, False), (17, True)):
        vague = found("closure_changed_cause_open", onset * NEAR)
        assert ("closure_changed_cause_open" in names(loss, vague)) is stands


def test_a_loss_explains_a_step_of_its_own_instrument_only() -> None:
    """What grew is no step; another instrument may have stepped meanwhile."""
    evidence = {"until": 9 * NEAR, "component": "dni"}
    loss = replace(found("soiling_drift", target="direct_1"), evidence=evidence)
    own, other = (found("sensitivity_changed", 3 * NEAR, target=t) for t in ("dni", "ghi"))
    assert settled([loss, own, other]) == [loss, other]
    assert settled([loss, found("level_step", 3 * NEAR)]) == [loss]


def test_a_cleaning_that_ended_what_grew_explains_it_too() -> None:
    """From the onset on; a lean beside a cleaning alone is one that somebody made."""
    cleaned, lean = found("cleaning_step", 9 * NEAR), found("level_step", 5 * NEAR)
    grown = replace(cleaned, evidence={"onset_likely": 3 * NEAR, "component": "ghi"})
    assert settled([grown, lean]) == [grown]
    for beside in (lean, found("level_step", 9 * NEAR)):
        assert settled([cleaned, beside]) == [cleaned, beside]


def test_what_has_no_beginning_explains_at_any_time() -> None:
    """A certificate holds all month."""
    off = found("responsivity_beyond_limits", None)
    assert names(off, found("sensitivity_off_certificate", None)) == ["sensitivity_off_certificate"]


def test_a_gross_error_silences_the_finer_ones() -> None:
    """But not frost or a lost direct."""
    fine = (found("level_step"), found("frost_mornings"), found("direct_lost"))
    assert names(found("time_zone_error", None), *fine) == [
        "time_zone_error",
        "frost_mornings",
        "direct_lost",
    ]


def test_the_same_finding_is_said_once() -> None:
    """The first stands."""
    first, second = found("sensitivity_changed"), found("sensitivity_changed")
    assert settled([first, second]) == [first]
    assert len(settled([first, found("sensitivity_changed", target="dni")])) == 2


def test_rules_speak_of_known_names() -> None:
    """A name that changed would never match."""
    spoken = {*GROSS, *SILENCED, *GIVES_WAY, *(n for v in GIVES_WAY.values() for n in v)}
    assert spoken <= set(NAMES)
