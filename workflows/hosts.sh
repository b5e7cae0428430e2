#!/usr/bin/env bash
# Runs a workflow on workers of other hosts, which it starts over ssh and stops in the end.
#   workflows/hosts.sh WORKFLOW HOST...
# A starting point: copy it and change what your site asks for. Raw, configuration and archive folders
# must be one shared file system, seen under the same paths by every host and by this one; so must the
# Python named by SUNLEDGER_PYTHON, with the same packages. WORKERS (2): processes a host; PORT (8786);
# ADDRESS: name or number by which the hosts reach this one; REMOTE (ssh): command that runs another
# one on a host. Exit codes are those of `sunledger run`.
set -euo pipefail
if [ $# -lt 2 ]; then
  echo "usage: $0 WORKFLOW HOST..." >&2
  exit 2
fi
WORKFLOW="$1"
shift
PYTHON="${SUNLEDGER_PYTHON:-python3}" WORKERS="${WORKERS:-2}" PORT="${PORT:-8786}"
ADDRESS="${ADDRESS:-$(hostname -f)}"
read -r -a REMOTE <<<"${REMOTE:-ssh}"
SCHEDULER="tcp://$ADDRESS:$PORT" STARTED=()
trap 'kill "${STARTED[@]}" 2>/dev/null; wait 2>/dev/null' EXIT

# Units handed to a worker before it asks for them; one at a time costs the scheduler more.
DASK_DISTRIBUTED__SCHEDULER__WORKER_SATURATION=8 \
  "$PYTHON" -m dask scheduler --host "$ADDRESS" --port "$PORT" --no-dashboard >/dev/null 2>&1 &
STARTED+=($!)

# One thread a worker: threads must not share HDF5 handles. Arrays of a month of minutes are reused,
# the text of a raw file is given back. A worker that finds no scheduler for a minute ends.
OWN=$((1 << 20)) FREE=$((16 << 20))
SETTINGS="MALLOC_MMAP_THRESHOLD_=$OWN MALLOC_TRIM_THRESHOLD_=$FREE POLARS_MAX_THREADS=1 OMP_NUM_THREADS=1"
SETTINGS="$SETTINGS DASK_DISTRIBUTED__NANNY__PRE_SPAWN_ENVIRON__MALLOC_TRIM_THRESHOLD_=$FREE"
for host in "$@"; do
  "${REMOTE[@]}" "$host" env $SETTINGS "$PYTHON" -m dask worker "$SCHEDULER" --nthreads 1 \
    --nworkers "$WORKERS" --no-dashboard --death-timeout 60 >/dev/null 2>&1 &
  STARTED+=($!)
done
CODE=0
"$PYTHON" -m sunledger.cli run "$WORKFLOW" --scheduler "$SCHEDULER" || CODE=$?
exit $CODE
