"""
Make raw data of the invented Northmere Radiation Network from a seed.

Any of its stations, any period, any interval from 1 s to an hour. The committed sample is
`python sample_raw/make_sample.py --out sample_raw/raw` for both stations with the defaults.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
# A script, not a package: its parts lie beside it, the fault models among the tests.
sys.path[:0] = [str(HERE), str(HERE.parent / "tests")]

from northmere.scenario import SCENARIOS  # noqa: E402
from northmere.shapes import Scenario  # noqa: E402
from northmere.station import Made, make_station, with_true_clocks  # noqa: E402

__all__ = ["SCENARIOS", "Made", "Scenario", "main", "make_station", "with_true_clocks"]

SEED = 7


def arguments(words: list[str] | None = None) -> argparse.Namespace:
    """
    Read the command line.

    Parameters
    ----------
    words : list of str, optional
        Instead of the process's own.

    Returns
    -------
    options : argparse.Namespace
        As described by ``--help``.
    """
    parser = argparse.ArgumentParser(description=(__doc__ or "").strip().splitlines()[0])
    parser.add_argument("--out", type=Path, required=True, help="raw folder to write into")
    parser.add_argument(
        "--station",
        choices=sorted(SCENARIOS),
        action="append",
        help="station identifier; may be repeated (default: all)",
    )
    parser.add_argument("--start", help="first day, ISO, in the loggers' dates")
    parser.add_argument("--days", type=int, help="number of days")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--interval", type=int, default=60, help="averaging interval, 1-600 s")
    parser.add_argument(
        "--truth",
        action="store_true",
        help="write true irradiances and injected faults too, for tests",
    )
    parser.add_argument(
        "--true-clocks",
        action="store_true",
        help="clocks without error, against what the field log says",
    )
    parser.add_argument("--clean", action="store_true", help="inject no faults")
    return parser.parse_args(words)


def main(words: list[str] | None = None) -> int:
    """
    Make what the command line asks for.

    Parameters
    ----------
    words : list of str, optional
        Instead of the process's own arguments.

    Returns
    -------
    code : int
        0 when written, 2 when asked for the impossible.
    """
    options = arguments(words)
    digests: dict[str, str] = {}
    for name in options.station or list(SCENARIOS):
        scenario = SCENARIOS[name]
        if options.true_clocks:
            scenario = with_true_clocks(scenario)
        try:
            made = make_station(
                scenario,
                options.start or scenario.start,
                options.days or scenario.days,
                options.seed,
                options.interval,
                faults=not options.clean,
            )
        except ValueError as fault:
            sys.stderr.write(f"{name}: {fault}\n")
            return 2
        digests |= made.write(options.out, truth=options.truth)
    folder = options.out.name
    listed = "".join(f"{digest}  {folder}/{path}\n" for path, digest in sorted(digests.items()))
    # beside the raw folder, which holds nothing but raw files
    options.out.with_name(f"{folder}.sha256").write_text(listed, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
