"""The PROV-JSON document is one that another library reads, and traces a product to raw files."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

from prov.model import ProvDocument, ProvEntity

from archive.small import small_archive
from sunledger.archive.listing import Published, published
from sunledger.archive.manifest import InputFile, Manifest
from sunledger.archive.prov import provenance

RAW = InputFile("north/main_1.csv", "a" * 64, 10)
VOLTAGE = Manifest("voltage", "osr", "2031-03", "kv", (RAW,), software={"sunledger": "0.1.0"})
FILES = [
    Published(Path("osr_voltage_main_2031-03.nc"), VOLTAGE),
    Published(Path("osr_minute_2031-03.nc"), replace(VOLTAGE, product="minute", key="km")),
    Published(
        Path("osr_daily_2031.nc"),
        replace(
            VOLTAGE,
            product="daily",
            period="2031",
            key="kd",
            resolved_configuration={"months": {"2031-03": "km"}},
        ),
    ),
]


def origins(document: dict, name: str) -> set[str]:
    """Everything that an entity was derived from, over any number of steps."""
    direct = {
        r["prov:usedEntity"]
        for r in document["wasDerivedFrom"].values()
        if r["prov:generatedEntity"] == name
    }
    return direct | {far for near in direct for far in origins(document, near)}


def test_chain_from_day_to_raw_file() -> None:
    found = origins(provenance(FILES), "file:osr_daily_2031_v1")
    assert found == {
        "file:osr_minute_2031-03_v1",
        "file:osr_voltage_main_2031-03_v1",
        f"raw:{'a' * 64}",
    }


def test_part_of_an_archive_still_ends_at_the_raw_files() -> None:
    assert origins(provenance(FILES[2:]), "file:osr_daily_2031_v1") == {f"raw:{'a' * 64}"}


def test_another_library_reads_it(tmp_path: Path) -> None:
    """W3C PROV-JSON of 2013, read by the independent library `prov`."""
    for files in (FILES, list(published(small_archive(tmp_path)))):
        document = provenance(files)
        read = ProvDocument.deserialize(content=json.dumps(document), format="json")
        kinds = {k: len(v) for k, v in document.items() if k != "prefix"}
        assert len(read.get_records()) == sum(kinds.values())
        assert len(list(read.get_records(ProvEntity))) == kinds["entity"]
        known = set(document["entity"]) | set(document["activity"]) | set(document["agent"])
        for relation in ("used", "wasGeneratedBy", "wasDerivedFrom", "wasAssociatedWith"):
            for ends in document[relation].values():
                assert set(ends.values()) <= known
