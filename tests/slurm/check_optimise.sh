#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# A search for a best shape on a real Slurm cluster on this machine: three parts, gathered, and the
# cell file compared byte for byte with that of the same search without Slurm.
# Usage: tests/slurm/check_optimise.sh PROGRAM     needs Slurm (scripts/install-packages) and root
set -euo pipefail

[ "$(id -u)" -eq 0 ] || {
  echo "a Slurm cluster on one host is started by root only; leave this out by ctest -LE slurm" >&2
  exit 1
}
export PATH=$PATH:/usr/sbin

program=$(realpath "$1")
scripts=$(cd "$(dirname "$0")/../../scripts" && pwd)
folder=$(mktemp -d)

finish() {
  status=$?
  trap - EXIT
  "$scripts/slurm-one-host" down "$folder/slurm" || true
  if [ "$status" -eq 0 ]; then
    rm -rf "$folder"
  else
    echo "FAILED: everything is left in $folder" >&2
    tail -n 5 "$folder"/best.hdf.logs/*.log >&2 2>/dev/null || true
  fi
  exit "$status"
}
trap finish EXIT

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
cat >"$folder/goal.yaml" <<'END'
cell: cell.yaml
vary:
  iris_ellipse.axial_mm: {from: 8, to: 18}
  iris_ellipse.radial_mm: {from: 10, to: 30}
maximise: r_over_q_linac_ohm
limits: {wall_angle_deg: {least: 5}}
starts: 4
END
"$program" optimise "$folder/goal.yaml" --quiet --cell "$folder/reference.yaml"

"$scripts/slurm-one-host" up "$folder/slurm" 3
# shellcheck source=/dev/null
. "$folder/slurm/environment"
CAVUM=$program "$scripts/slurm-optimise" "$folder/goal.yaml" -o "$folder/best.hdf" --parts 3 \
  --cell "$folder/best.yaml" --megabytes 200

end=$((SECONDS + 600))
until [ -s "$folder/best.hdf" ]; do
  [ "$SECONDS" -lt "$end" ] || {
    echo "FAILED: not within 600 s" >&2
    squeue >&2 || true
    exit 1
  }
  sleep 0.05
done
cmp "$folder/best.yaml" "$folder/reference.yaml"
echo "the gathered cell is the one of a search here, byte for byte"
