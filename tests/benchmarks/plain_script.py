"""
A plain script as a good data manager would write it, to measure the pipeline against.

It reads a year of minutes, computes the sun, scales the radiometers, applies one limit test,
resamples, and writes four NetCDF files: nothing about certificates, clocks, the field log, flags by
test, uncertainty, versions or what changed. Run with
`python plain_script.py FOLDER_OF_RAW_FILES OUTPUT`.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pandas as pd
import pvlib
import xarray as xr

LATITUDE, LONGITUDE, ALTITUDE = 46.815, 6.944, 491.0
SENSITIVITY = {"global_1": 8.0, "diffuse_1": 10.0, "direct_1": 9.0, "sky_1": 4.0}  # uV W-1 m2
SIGMA = 5.670374419e-8  # W m-2 K-4
NAMES = {"global_1": "ghi", "diffuse_1": "dhi", "direct_1": "dni"}


def read(folder: Path) -> pd.DataFrame:
    """Voltages by UTC at the start of the minute."""
    files = sorted(folder.glob("all_*.csv"))
    table = pd.concat([pd.read_csv(f, parse_dates=["stamp"], index_col="stamp") for f in files])
    table.index = table.index - pd.Timedelta(minutes=61)  # labels at the end, in UTC+1
    table.index.name = "time"
    return table[~table.index.duplicated()]


def irradiances(table: pd.DataFrame) -> pd.DataFrame:
    """Scaled radiometers; a global above the extraterrestrial limit is flagged."""
    middle = table.index + pd.Timedelta(seconds=30)
    sun = pvlib.solarposition.get_solarposition(middle, LATITUDE, LONGITUDE, ALTITUDE)
    sun.index = table.index
    out = pd.DataFrame(index=table.index)
    for position, name in NAMES.items():
        for word, ending in (("mean", ""), ("min", "_min"), ("max", "_max"), ("std", "_std")):
            out[name + ending] = table[f"{position}_{word}"] * 1000 / SENSITIVITY[position]
    signal = table["sky_1_mean"] * 1000 / SENSITIVITY["sky_1"]
    out["lwd"] = signal + SIGMA * table["tb"] ** 4
    out["air_temperature"] = table["ta"] + 273.15
    out["zenith"], out["azimuth"] = sun["apparent_zenith"], sun["azimuth"]
    cosine = pvlib.tools.cosd(out["zenith"]).clip(lower=0)
    limit = 1.5 * pvlib.irradiance.get_extra_radiation(table.index) * cosine**1.2 + 100
    out["ghi_flag"] = ((out["ghi"] > limit) | (out["ghi"] < -4)).astype("int8")
    return out


def main(raw: Path, output: Path) -> None:
    """Voltages, minutes, hours, and days with months, each a file."""
    table = read(raw)
    minutes = irradiances(table)
    good = minutes.drop(columns="ghi_flag").where(minutes["ghi_flag"] == 0)
    hours, days = good.resample("1h").mean(), good.resample("1D").mean()
    for name, frame in (
        ("voltage", table),
        ("minute", minutes),
        ("hourly", hours),
        ("daily", days),
    ):
        ds = xr.Dataset.from_dataframe(frame.astype("float32"))
        # the level that the pipeline uses, so that both pay the same for their bytes
        packed = {v: {"zlib": True, "complevel": 2, "shuffle": True} for v in ds.data_vars}
        ds.to_netcdf(output / f"{name}.nc", encoding=packed)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
