"""Tables inside a file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import xarray as xr

from archive.samples import history, minute_file
from sunledger.archive.conventions_tables import column, metadata_group, table, time_column
from sunledger.archive.netcdf import write_file


def test_columns_by_kind() -> None:
    number = column("row", "tilt", [0.1, np.nan], "tilt", units="degree")
    assert np.isnan(number.fill_value)
    assert number.attributes == {"long_name": "tilt", "units": "degree"}
    assert column("row", "id", [1, 2], "identifier").fill_value is None
    assert column("row", "note", ["a", "b"], "note").dtype == "text"


def test_instants_have_no_calendar() -> None:
    """With one, a column that is missing throughout could not be written back by xarray."""
    spec = time_column("row", "end", [np.nan], "end")
    assert spec.attributes == {"long_name": "end", "units": "seconds since 1970-01-01 00:00:00"}


def test_one_group_above_all_tables() -> None:
    group = metadata_group([table("a", "A", []), table("b", "B", [], "some")])
    assert (group.name, [g.name for g in group.groups]) == ("metadata", ["a", "b"])
    assert group.groups[1].attributes == {"title": "B", "comment": "some"}


def test_table_opens_in_a_common_reader_and_can_be_written_back(tmp_path: Path) -> None:
    write_file(tmp_path / "x.nc", minute_file(rows=2))
    with xr.open_dataset(tmp_path / "x.nc", group="metadata/deployment") as ds:
        frame = ds.to_dataframe()
        ds.load().to_netcdf(tmp_path / "back.nc")
    assert frame["serial_number"].tolist() == ["N-000", "N-001"]
    assert frame["deployment_end"].isna().all()
    assert history(0).groups[0].variables[0].data.shape == (0,)
