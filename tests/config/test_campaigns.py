"""Loading a campaign: how it must fit the record, every fault at once, with file and line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import small_project
from campaign_project import campaign
from invented import certificate, deployment
from sunledger.config.campaigns import TRIAL, load_campaign, trial_config
from sunledger.errors import ConfigError


def write(folder: Path, **changes: Any) -> Path:
    """A small project, without raw data, with a campaign on its global."""
    small_project.write_project(folder, days=())
    plain = campaign(
        **{
            "workflow": "workflow.yaml",
            "station": "tst",
            "from": "2031-06-29",
            "until": "2031-07-02",
        }
        | changes
    )
    (folder / "campaign.yaml").write_text(json.dumps(plain, indent=1), encoding="utf-8")
    return folder / "campaign.yaml"


def faults(file: Path) -> list[str]:
    """What loading says, one line a fault, without the folder."""
    with pytest.raises(ConfigError) as told:
        load_campaign(file)
    return [str(f).replace(f"{file.parent}/", "") for f in sorted(told.value.faults)]


def record(file: Path, name: str, change: Any) -> None:
    """Change one file of the station."""
    small_project.edit(file.parent / "workflow.yaml", f"station/{name}", change)


def test_sound_campaign_loads(tmp_path: Path) -> None:
    """With the instrument and the certificate it has."""
    loaded = load_campaign(write(tmp_path))
    assert loaded.instrument.serial_number == "NR-global_1"
    assert loaded.before is not None
    assert loaded.before.certificate == "NC-global_1"


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        (
            {"station": "tts"},
            [
                "campaign.yaml:3: station: no such station; allowed: tst; did you mean 'tst'?"
                " (got tts)"
            ],
        ),
        (
            {"position": "globl_1", "components": {"direct": "direct_1", "diffuse": "difuse_1"}},
            [
                "campaign.yaml:4: position: no such position; allowed: global_1, diffuse_1,"
                " direct_1; did you mean 'global_1'? (got globl_1)",
                "campaign.yaml:8: components.diffuse: no such position; allowed: global_1,"
                " diffuse_1, direct_1; did you mean 'diffuse_1'? (got difuse_1)",
            ],
        ),
        (
            {"components": {"direct": "diffuse_1", "diffuse": "direct_1"}},
            [
                "campaign.yaml:7: components.direct: must be another position that measures dni;"
                " allowed: direct_1 (got diffuse_1)",
                "campaign.yaml:8: components.diffuse: must be another position that measures dhi;"
                " allowed: diffuse_1 (got direct_1)",
            ],
        ),
        (
            {"position": "direct_1"},
            [
                "campaign.yaml:5: method: component_sum is for ghi (got dni at direct_1)",
                "campaign.yaml:7: components.direct: must be another position that measures dni;"
                " allowed: none at this station (got direct_1)",
            ],
        ),
        (
            {"until": "2033-07-02"},
            [
                "campaign.yaml:7: components.direct: certificate NC-direct_1 of the reference"
                " NR-direct_1 is expired: older than 730 days within the campaign",
                "campaign.yaml:8: components.diffuse: certificate NC-diffuse_1 of the reference"
                " NR-diffuse_1 is expired: older than 730 days within the campaign",
            ],
        ),
    ],
)
def test_faults(changes: dict[str, Any], expected: list[str], tmp_path: Path) -> None:
    """Each with its line, what is allowed, and what was given."""
    assert faults(write(tmp_path, **changes)) == expected


def test_faults_of_all_files_at_once(tmp_path: Path) -> None:
    """The campaign's own and those of the plan it names; a missing plan is told too."""
    file = write(tmp_path, laboratory="")
    (tmp_path / "processing.yaml").write_text('{"calibrate": {"polcy": 1}}', encoding="utf-8")
    told = faults(file)
    assert [t.partition(": ")[0] for t in told] == ["campaign.yaml:12", "processing.yaml:1"]
    missing = write(tmp_path / "b", workflow="none.yaml", laboratory="")
    assert len(faults(missing)) == 2
    assert "no such file; paths are relative to this file" in faults(missing)[0]


def test_reference_without_certificate_or_deployment(tmp_path: Path) -> None:
    """A reference that came in the middle, and one that nobody certified."""
    file = write(tmp_path)
    uncertified = {"certificate": "X", "date": "2031-06-30"}
    record(
        file,
        "instruments",
        lambda r: r["instruments"][2].update(calibrations=[certificate("direct_1", **uncertified)]),
    )
    late = deployment("diffuse_1", shade="disc", **{"from": "2031-06-30"})
    record(file, "fieldlog", lambda r: r["entries"].__setitem__(1, late))
    direct, diffuse, *more = faults(file)
    assert direct.endswith("the reference at direct_1 has no certificate in force all the time")
    assert "diffuse_1 throughout (got no instrument all the time)" in diffuse
    assert more == []


def test_instrument_changed_during_the_campaign(tmp_path: Path) -> None:
    """Two instruments are two certificates."""
    file = write(tmp_path)
    first = deployment("global_1", until="2031-06-30")
    other = deployment(
        "global_1", **{"id": "dep-b", "from": "2031-06-30", "instrument": "NR-global_2"}
    )
    record(file, "fieldlog", lambda r: r["entries"].__setitem__(0, first))
    record(file, "fieldlog", lambda r: r["entries"].append(other))
    twin = {"serial_number": "NR-global_2", "kind": "thermopile_pyranometer"}
    record(file, "instruments", lambda r: r["instruments"].append(twin))
    assert faults(file) == [
        "campaign.yaml:4: position: one instrument must stand at global_1 throughout (got 2"
        " instruments)"
    ]


def test_references_on_different_scales(tmp_path: Path) -> None:
    """Direct on one, diffuse on another: their sum stands on none."""
    file = write(tmp_path)
    record(
        file,
        "instruments",
        lambda r: r["instruments"][2]["calibrations"][0].update(reference_scale="older scale"),
    )
    (told,) = faults(file)
    assert "(NR-direct_1).calibrations[0] (NC-direct_1).reference_scale" in told
    assert "other shortwave values stand on WRR; give a factor" in told


def test_a_record_that_does_not_fit_together_is_refused(tmp_path: Path) -> None:
    """The ledger's errors come first; its warnings stop nothing."""
    file = write(tmp_path)
    record(file, "fieldlog", lambda r: r["entries"][1].update(shade="none"))
    (told,) = faults(file)
    assert told.startswith("station/fieldlog.yaml:")
    assert "diffuse_1 measures dhi, which needs a shade" in told


def test_longwave_is_refused(tmp_path: Path) -> None:
    """The standards named here are for shortwave."""
    file = write(
        tmp_path, position="sky_1", method="comparison", components=None, reference="sky_1"
    )
    sky = {"column": "sky", "position": "sky_1", "quantity": "lwd", "unit": "mV"}
    record(file, "station", lambda r: r["loggers"]["main"]["channels"].append(sky))
    record(file, "fieldlog", lambda r: r["entries"].append(deployment("sky_1")))
    sensor = {"serial_number": "NR-sky_1", "kind": "pyrgeometer"}
    record(file, "instruments", lambda r: r["instruments"].append(sensor))
    assert any("longwave is not calibrated by comparison here" in t for t in faults(file))


def test_only_the_last_certificate_before_is_tried(tmp_path: Path) -> None:
    """Later ones, such as the campaign's own once it is entered, play no part."""
    file = write(tmp_path)
    several = [
        certificate("global_1", certificate=f"C{y}", date=f"{y}-06-01") for y in (2029, 2030)
    ]
    later = certificate("global_1", certificate="C2031", date="2031-07-02")
    record(
        file, "instruments", lambda r: r["instruments"][0].update(calibrations=[*several, later])
    )
    loaded = load_campaign(file)
    config, _ = trial_config(loaded)
    mine = config.inventory.by_serial()["NR-global_1"].calibrations
    assert [c.certificate for c in mine] == ["C2030"]
    assert (
        loaded.config.inventory.by_serial()["NR-global_1"].calibrations[-1].certificate == "C2031"
    )


@pytest.mark.parametrize("policy", ["interpolated", "latest_before", "fixed"])
def test_without_certificate_or_across_a_break(policy: str, tmp_path: Path) -> None:
    """A usual sensitivity stands in, under every policy; tables of another detector do not."""
    file = write(tmp_path)
    known = {"fixed_certificates": {f"NR-{p}": f"NC-{p}" for p in ("direct_1", "diffuse_1")}}
    settings = {"calibrate": {"policy": policy} | (known if policy == "fixed" else {})}
    (tmp_path / "processing.yaml").write_text(json.dumps(settings), encoding="utf-8")
    broken = [{"date": "2031-02-01", "reason": "new detector"}]
    record(file, "instruments", lambda r: r["instruments"][0].update(breaks=broken))
    loaded = load_campaign(file)
    assert loaded.before is None
    config, processing = trial_config(loaded)
    (mine,) = config.inventory.by_serial()["NR-global_1"].calibrations
    assert (mine.certificate, mine.sensitivity.as_left) == (TRIAL, 12.5)
    assert processing.calibrate.fixed_certificates["NR-global_1"] == TRIAL
