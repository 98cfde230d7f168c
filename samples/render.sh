#!/usr/bin/env bash
# Renders the sample photos anew from their scene files (about a minute a photo).
# Usage: bash samples/render.sh [JOB ... | calibration]
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
build=${BUILD_DIR:-$here/../build/release}
cmake -S "$here/.." -B "$build" -G Ninja -DCMAKE_BUILD_TYPE=Release -DSQUARESIGHT_SAMPLES=ON
cmake --build "$build" --target squaresight_render
scenes=()
if [ $# -eq 0 ]; then
  scenes=("$here"/jobs/*/scene.yaml "$here"/calibration/*.scene.yaml)
fi
for name in "$@"; do
  if [ "$name" = calibration ]; then
    scenes+=("$here"/calibration/*.scene.yaml)
  else
    scenes+=("$here/jobs/$name/scene.yaml")
  fi
done
for scene in "${scenes[@]}"; do
  "$build/samples/squaresight_render" "$scene" --threads "$(nproc)"
done
