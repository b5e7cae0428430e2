#!/usr/bin/env bash
# Makes the environment and runs the sample job: raw logger files of two invented stations to a
# NetCDF archive in build/sample_archive.
# shellcheck source=workflows/environment.sh
source "$(dirname "${BASH_SOURCE[0]}")/environment.sh"
"$PYTHON" -m sunledger.cli run "$ROOT/workflows/sample.yaml" "$@"
echo
echo "The archive is in $ROOT/build/sample_archive; the README says how to open it."
