"""The chain from raw files to products in PROV-JSON, for programs that trace data."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sunledger.archive.listing import Published

# W3C Member Submission "The PROV-JSON Serialization", 24 April 2013.
PREFIXES = {
    "sl": "urn:sunledger:terms:",
    "file": "urn:sunledger:file:",
    "raw": "urn:sunledger:raw:",
    "act": "urn:sunledger:activity:",
    "agent": "urn:sunledger:agent:",
    "conf": "urn:sunledger:configuration:",
}
GRIDS = ("minute", "series")
_STEPS = {"voltage": "ingest", **dict.fromkeys(GRIDS, "calibrate, time_correct, qc_flag")}


def provenance(files: Iterable[Published]) -> dict[str, Any]:
    """
    Provenance of published files as a PROV-JSON document.

    Parameters
    ----------
    files : iterable of Published
        Files of an archive or a part of it.

    Returns
    -------
    document : dict
        Raw files, configurations and products as entities; the making of each product as an
        activity that used the products before it (or, where these are not among ``files``, the raw
        files) and its configuration; the software as agent. No times: the archive reads no clock,
        and dates of issue stand as attributes.
    """
    chain = _Chain()
    everything = list(files)
    for file in everything:
        chain.add(file, _parents(file, everything))
    return chain.document()


def _parents(file: Published, files: list[Published]) -> list[Published]:
    """List the products a product was made of, as far as they are here."""
    m = file.manifest
    if m.product == "voltage":
        return []
    if m.product in GRIDS:
        raw = {i.sha256 for i in m.inputs}
        candidates = [f for f in files if f.manifest.product == "voltage"]
        return [
            f
            for f in candidates
            if f.manifest.station == m.station and raw & {i.sha256 for i in f.manifest.inputs}
        ]
    months = {name.split()[0] for name in m.resolved_configuration.get("months", {})}
    return [
        f
        for f in files
        if f.manifest.product in GRIDS
        and f.manifest.station == m.station
        and f.manifest.period in months
    ]


class _Chain:
    """A PROV document while it is being put together."""

    def __init__(self) -> None:
        self.records: dict[str, dict[str, Any]] = {}

    def _put(self, kind: str, name: str, **attributes: Any) -> str:
        said = {k.replace("__", ":"): v for k, v in attributes.items()}
        self.records.setdefault(kind, {})[name] = said
        return name

    def _relate(self, kind: str, **ends: str) -> None:
        known = self.records.setdefault(kind, {})
        known[f"_:{kind}{len(known)}"] = {f"prov:{k}": v for k, v in ends.items()}

    def add(self, file: Published, parents: list[Published]) -> None:
        m = file.manifest
        name = self._put(
            "entity",
            f"file:{file.path.stem}_v{m.version}",
            prov__label=file.path.name,
            prov__type="sl:product",
            sl__product=m.product,
            sl__period=m.period,
            sl__version=m.version,
            sl__status=m.status,
            sl__sha256=m.file_sha256,
            sl__logical_digest=m.logical_digest,
        )
        made = self._put(
            "activity",
            f"act:make_{file.path.stem}_v{m.version}",
            prov__label=_STEPS.get(m.product, "aggregate"),
        )
        configuration = self._put(
            "entity", f"conf:{m.key}", prov__type="sl:configuration", sl__key=m.key
        )
        versions = {f"sl:version_of_{k}": v for k, v in sorted(m.software.items())}
        agent = f"agent:sunledger_{m.software.get('sunledger', 'unknown')}"
        self._put("agent", agent, prov__type="prov:SoftwareAgent")
        self.records["agent"][agent] |= versions
        self._relate("wasGeneratedBy", entity=name, activity=made)
        self._relate("wasAssociatedWith", activity=made, agent=agent)
        self._relate("used", activity=made, entity=configuration)
        sources = [f"file:{p.path.stem}_v{p.manifest.version}" for p in parents]
        for source in sources or [self._raw(i.name, i.sha256, i.size) for i in m.inputs]:
            self._relate("used", activity=made, entity=source)
            self._relate("wasDerivedFrom", generatedEntity=name, usedEntity=source, activity=made)

    def _raw(self, name: str, sha256: str, size: int) -> str:
        return self._put(
            "entity",
            f"raw:{sha256}",
            prov__label=name,
            prov__type="sl:raw_file",
            sl__sha256=sha256,
            sl__bytes=size,
        )

    def document(self) -> dict[str, Any]:
        return {"prefix": PREFIXES, **self.records}
