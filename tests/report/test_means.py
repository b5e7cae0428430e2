"""Monthly means of the monthly files."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from sunledger.report.means import monthly_means


def test_means_of_the_sample(sample_folder: Path) -> None:
    """As the file says, withheld months left out; quantities without uncertainty have none."""
    folder = sample_folder / "build" / "sample_archive" / "osr" / "monthly"
    means = monthly_means(sorted(folder.glob("*.nc")))
    assert set(means["ghi"]) == {"2031-04", "2031-05"}
    value, width = means["ghi"]["2031-04"]
    assert 200 < value < 250
    assert 0 < width < 20
    assert np.isnan(means["air_pressure"]["2031-04"][1])
    assert monthly_means([]) == {}
