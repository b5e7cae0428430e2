#!/usr/bin/env bash
# The monthly routine, unattended: run, verify, catalogue, visit sheets, reports. Prints one text,
# fit for a mail.
#   workflows/monthly.sh WORKFLOW ARCHIVE
# Exit code: 0 all well, 1 something failed or was found, 2 bad usage or configuration. A second call
# while one is going on is refused by the lock of the archive. SUNLEDGER names another command.
set -uo pipefail
if [ $# -ne 2 ]; then
  echo "usage: $0 WORKFLOW ARCHIVE" >&2
  exit 2
fi
WORKFLOW="$1" ARCHIVE="$2" WORST=0
read -r -a COMMAND <<<"${SUNLEDGER:-sunledger}"
LOG="$(mktemp)"
trap 'rm -f "$LOG"' EXIT

# Runs a step; its words go into the text, the worst exit code of all becomes that of the routine.
step() {
  local title="$1" code=0
  shift
  "${COMMAND[@]}" "$@" >"$LOG" 2>&1 || code=$?
  printf '\n== %s: %s\n' "$title" "$([ $code -eq 0 ] && echo well || echo "exit code $code")"
  # one line a file while it is made is no news afterwards
  grep -v -E '^[0-9]+/[0-9]+ .*: (written|unchanged)' "$LOG"
  [ $code -gt "$WORST" ] && WORST=$code
  return $code
}

echo "Monthly routine of $WORKFLOW"
step "run" run "$WORKFLOW" --archive "$ARCHIVE"
RUN=$?
if [ $RUN -le 1 ]; then # some units may have failed; the others are worth verifying
  step "verify" verify "$ARCHIVE"
  step "catalogue" catalog "$ARCHIVE"
  step "visit sheets" visit papers "$WORKFLOW" "$ARCHIVE/catalog" --archive "$ARCHIVE"
  # the page of each station's newest month beside its page in the catalogue, then the network's of
  # the newest month of all, which links to them
  LAST=""
  for folder in "$ARCHIVE"/*/minute; do
    newest="$(find "$folder" -maxdepth 1 -name '*_minute_????-??.nc' 2>/dev/null | sort | tail -n 1)"
    [ -n "$newest" ] || continue
    station="$(basename "$(dirname "$folder")")" month="${newest: -10:7}"
    step "report of $station $month" report "$ARCHIVE" "$station" "$month" \
      --output "$ARCHIVE/catalog/$station/report_$month.html"
    [[ "$month" > "$LAST" ]] && LAST="$month"
  done
  [ -z "$LAST" ] ||
    step "network $LAST" network "$ARCHIVE" "$LAST" --output "$ARCHIVE/catalog/network_$LAST.html"
fi
printf '\n%s\n' "Worst exit code: $WORST"
exit $WORST
