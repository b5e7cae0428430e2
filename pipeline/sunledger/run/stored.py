"""What the archive says of a fresh unit, read once while planning."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sunledger.archive.manifest import Manifest


@dataclass(frozen=True)
class Stored:
    """
    What the manifest of a fresh unit says, so that it is read once.

    Parameters
    ----------
    version : int
        Of its file.
    status : str
        Of its file.
    accounting, flags_raised : dict
        Of the manifest.
    digest : str
        Logical digest of its file.
    findings : tuple of dict or None
        Of a month of minutes that was diagnosed.
    """

    version: int
    status: str
    accounting: Mapping[str, Any]
    flags_raised: Mapping[str, Any]
    digest: str
    findings: tuple[Mapping[str, Any], ...] | None


def stored_of(manifest: Manifest) -> Stored:
    """
    What a manifest says that a run still needs.

    Parameters
    ----------
    manifest : Manifest
        Of a unit's file.

    Returns
    -------
    stored : Stored
        Without configuration and inputs, which are most of it.
    """
    return Stored(
        manifest.version,
        manifest.status,
        manifest.accounting,
        manifest.flags_raised,
        manifest.logical_digest,
        manifest.findings,
    )
