#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# A study on a real Slurm cluster on this machine: 20 parts, one killed and queued again, one node
# drained, gathered, and compared bit for bit with the same study computed here without Slurm.
# Usage: tests/slurm/check_scan.sh PROGRAM     needs Slurm (scripts/install-packages) and root
set -euo pipefail

[ "$(id -u)" -eq 0 ] || {
  echo "a Slurm cluster on one host is started by root only; leave this out by ctest -LE slurm" >&2
  exit 1
}
export PATH=$PATH:/usr/sbin

program=$(realpath "$1")
scripts=$(cd "$(dirname "$0")/../../scripts" && pwd)
folder=$(mktemp -d)
parts=20

finish() {
  status=$?
  trap - EXIT
  "$scripts/slurm-one-host" down "$folder/slurm" || true
  if [ "$status" -eq 0 ]; then
    rm -rf "$folder"
  else
    echo "FAILED: everything is left in $folder" >&2
    tail -n 5 "$folder"/out.hdf.logs/*.log >&2 2>/dev/null || true
  fi
  exit "$status"
}
trap finish EXIT

# Runs a command until it succeeds; fails after a time that a loaded machine does not need either.
within_limit() {
  local seconds=600 end=$((SECONDS + 600))
  until "$@"; do
    [ "$SECONDS" -lt "$end" ] || {
      echo "FAILED: not within $seconds s: $*" >&2
      squeue >&2 || true
      return 1
    }
    sleep 0.05
  done
}

cat >"$folder/cell.yaml" <<'END'
title: Test cell, invented
contour:
  kind: two-ellipse
  half_length_mm: 57.7
  iris_radius_mm: 35.0
  equator_radius_mm: 103.3
  equator_ellipse: {axial_mm: 42.0, radial_mm: 42.0}
  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}
ends:
  left: {kind: magnetic}
  right: {kind: magnetic}
END
write_study() {
  cat >"$folder/study.yaml" <<END
cell: cell.yaml
vary:
  iris_radius_mm: {from: 31.0, to: 39.0}
  equator_ellipse.axial_mm: {from: 38.0, to: 43.0}
sampling: {kind: sobol, points: $1}
hold: {frequency_MHz: 1300.0, by: equator_radius_mm}
batch: 4
END
}

# As many shapes as keep a part busy for most of a second, so that one can be hit while it runs.
write_study 400
seconds=$("$program" scan "$folder/study.yaml" --estimate |
  sed -n 's/.*"seconds_per_shape":\([-+.0-9eE]*\).*/\1/p')
points=$(awk -v s="$seconds" -v parts=$parts \
  'BEGIN { n = int(0.7 * parts / s); print n < 400 ? 400 : n }')
write_study "$points"
echo "$points shapes"
"$program" scan "$folder/study.yaml" -o "$folder/reference.hdf" --quiet

"$scripts/slurm-one-host" up "$folder/slurm" 3
# shellcheck source=/dev/null
. "$folder/slurm/environment"
CAVUM=$program "$scripts/slurm-scan" "$folder/study.yaml" -o "$folder/out.hdf" --parts $parts
jobs=$(squeue --noheader --format=%A | sort --unique --numeric-sort)
array=$(head -n 1 <<<"$jobs")

# The process that watches the workers of a running part: ours, and no other on this machine.
victim=
find_victim() {
  local entry parent name
  name=$(basename "$program")
  # One look at all processes: a part runs for a second only.
  while read -r entry; do
    entry=${entry%/comm}
    { tr '\0' '\n' <"$entry/environ" | grep -qxF "SLURM_CONF=$SLURM_CONF"; } 2>/dev/null || continue
    parent=$(sed -n 's/^PPid:[[:space:]]*//p' "$entry/status" 2>/dev/null)
    [ "$(cat "/proc/$parent/comm" 2>/dev/null)" != "$name" ] || continue
    victim=${entry#/proc/}
    return 0
  done < <(grep -lxF "$name" /proc/[0-9]*/comm 2>/dev/null)
  return 1
}
# A part that ends between being found and being hit is left for another.
kill_victim() {
  find_victim || return 1
  task=$({ tr '\0' '\n' <"/proc/$victim/environ"; } 2>/dev/null |
    sed -n 's/^SLURM_ARRAY_TASK_ID=//p')
  [ -n "$task" ] && kill -KILL "$victim" 2>/dev/null
}
within_limit kill_victim
echo "killed process $victim of part $task"

scontrol update NodeName=n2 State=DRAIN Reason=check
sinfo --noheader --nodes=n2 --format=%T | grep -q '^drain'
echo "drained node n2"

was_queued_again() { grep -q 'ended with 137' "$folder/out.hdf.logs/part-$task.log" 2>/dev/null; }
within_limit was_queued_again
is_gathered() { [ -s "$folder/out.hdf" ]; }
within_limit is_gathered
has_restarted() { scontrol show job "${array}_$task" | grep -q 'Restarts=[1-9]'; }
has_restarted || {
  echo "FAILED: part $task was not queued again" >&2
  exit 1
}
cmp "$folder/out.hdf" "$folder/reference.hdf"
echo "the gathered result is the local one, bit for bit"
