"""
Runs a workflow on workers that a batch system starts, through dask-jobqueue.

    python workflows/batch.py plan.yaml --system slurm --jobs 8 --walltime 02:00:00 -- --months ...

A starting point: copy it and add what your site asks for (`--directive` adds a line to the job
script). Needs `pip install dask-jobqueue`. Raw, configuration and archive folders must be one
shared file system, seen under the same paths by every node and by the host on which this runs; it
stays here until all is done. Words behind `--` go to `sunledger run`; exit codes are those of it.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from typing import Any

SYSTEMS = {
    "htcondor": "HTCondorCluster",
    "lsf": "LSFCluster",
    "moab": "MoabCluster",
    "oar": "OARCluster",
    "pbs": "PBSCluster",
    "sge": "SGECluster",
    "slurm": "SLURMCluster",
}
# arrays of a month of minutes are reused, the text of a raw file is given back
OWN_PAGES, FREE_PAGES = 1 << 20, 16 << 20
# one thread a worker, as with workers of our own: threads must not share HDF5 handles
ENVIRON = {
    "MALLOC_MMAP_THRESHOLD_": OWN_PAGES,
    "MALLOC_TRIM_THRESHOLD_": FREE_PAGES,
    "POLARS_MAX_THREADS": 1,
    "OMP_NUM_THREADS": 1,
}


def asked() -> tuple[argparse.Namespace, list[str]]:
    """What is asked for, and the words for `sunledger run`."""
    own, words = sys.argv[1:], []
    if "--" in own:
        own, words = own[: own.index("--")], own[own.index("--") + 1 :]
    parser = argparse.ArgumentParser(description=(__doc__ or "").strip().splitlines()[0])
    parser.add_argument("workflow")
    parser.add_argument("--system", choices=sorted(SYSTEMS), required=True)
    parser.add_argument("--jobs", type=int, default=4, help="workers, one a job")
    parser.add_argument("--memory", default="2GB", help="of a job")
    parser.add_argument("--walltime", default="02:00:00")
    parser.add_argument("--queue")
    parser.add_argument("--account")
    parser.add_argument("--interface", help="network interface by which nodes reach this host")
    parser.add_argument("--directive", action="append", default=[])
    return parser.parse_args(own), words


def cluster_of(choice: argparse.Namespace) -> Any:
    """A cluster of single workers on the batch system asked for."""
    import dask
    import dask_jobqueue

    dask.config.set({"distributed.scheduler.worker-saturation": 8})
    given = {
        "queue": choice.queue,
        "account": choice.account,
        "walltime": choice.walltime,
        "interface": choice.interface,
    }
    if choice.system == "htcondor":  # it has no such words
        given = {"interface": choice.interface}
    return getattr(dask_jobqueue, SYSTEMS[choice.system])(
        cores=1,
        processes=1,
        memory=choice.memory,
        # the batch system keeps the walltime, and starts nothing anew by itself
        nanny=False,
        job_script_prologue=[f"export {name}={value}" for name, value in ENVIRON.items()],
        job_extra_directives=choice.directive,
        scheduler_options={"dashboard": False},
        **{name: value for name, value in given.items() if value is not None},
    )


def main() -> int:
    """Start the workers, run, and let them go whatever happened."""
    choice, words = asked()
    with cluster_of(choice) as cluster:
        cluster.scale(jobs=choice.jobs)
        command = [sys.executable, "-m", "sunledger.cli", "run", choice.workflow, *words]
        said = f"{choice.jobs} jobs asked for; scheduler at {cluster.scheduler_address}\n"
        sys.stdout.write(said)
        sys.stdout.flush()
        done = subprocess.run([*command, "--scheduler", cluster.scheduler_address], check=False)
    return done.returncode


if __name__ == "__main__":
    sys.exit(main())
