"""What every unit of a run knows: the loaded configuration, the folders, and the run's "now"."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sunledger import __version__
from sunledger.archive.changes import RECORD_NAME
from sunledger.config.loading import StationConfig
from sunledger.config.models.processing import Processing
from sunledger.config.models.workflow import Network

SOFTWARE = f"sunledger {__version__}"


@dataclass(frozen=True)
class RunContext:
    """
    Everything but the data.

    Parameters
    ----------
    network : Network
        Whose archive it is.
    processing : Processing
        Settings of the stages.
    stations : tuple of StationConfig
        Stations of the run.
    stages : tuple of str
        Stages to run, from the first.
    raw : Path
        Folder of the raw files.
    archive : Path
        Folder of the archive.
    as_of : int
        The run's "now". [s]
    issued : str
        Date of issue of what the run makes.
    """

    network: Network
    processing: Processing
    stations: tuple[StationConfig, ...]
    stages: tuple[str, ...]
    raw: Path
    archive: Path
    as_of: int
    issued: str

    def station(self, station_id: str) -> StationConfig:
        """
        One station.

        Parameters
        ----------
        station_id : str
            Its identifier.

        Returns
        -------
        config : StationConfig
            The station's files.
        """
        return next(s for s in self.stations if s.station.id == station_id)

    def record_path(self, station_id: str) -> Path:
        """
        Where a station's change record stands.

        Parameters
        ----------
        station_id : str
            Its identifier.

        Returns
        -------
        path : Path
            Within the archive.
        """
        return self.archive / station_id / RECORD_NAME

    def product_path(self, station_id: str, product: str, period: str, part: str = "") -> Path:
        """
        Where a product's file stands.

        Parameters
        ----------
        station_id : str
            Identifier of the station.
        product : str
            Such as ``minute``.
        period : str
            Such as ``2031-03`` or ``2031``.
        part : str
            Logger of a voltage file.

        Returns
        -------
        path : Path
            Within the archive.
        """
        return product_path(self.archive, station_id, product, period, part)


def product_path(archive: Path, station_id: str, product: str, period: str, part: str = "") -> Path:
    """
    Where a product's file stands.

    Parameters
    ----------
    archive : Path
        Folder of the archive.
    station_id, product, period, part : str
        See :meth:`RunContext.product_path`.

    Returns
    -------
    path : Path
        Within the archive.
    """
    words = [station_id, product, part, period] if part else [station_id, product, period]
    return archive / station_id / product / f"{'_'.join(words)}.nc"


def issue_date(as_of: int, source_date_epoch: str | None) -> str:
    """
    Date of issue: from the run's "now" or, where given, from ``SOURCE_DATE_EPOCH``.

    Parameters
    ----------
    as_of : int
        [s]
    source_date_epoch : str or None
        Value of that environment variable.

    Returns
    -------
    date : str
        ISO date.
    """
    seconds = int(source_date_epoch) if source_date_epoch else as_of
    return datetime.fromtimestamp(seconds, UTC).date().isoformat()
