#!/usr/bin/env bash
# Renders the photos of every sample job anew from its scene file (about a minute a photo).
# Usage: bash samples/render.sh [JOB ...]
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
build=${BUILD_DIR:-$here/../build/release}
cmake -S "$here/.." -B "$build" -G Ninja -DCMAKE_BUILD_TYPE=Release -DSQUARESIGHT_SAMPLES=ON
cmake --build "$build" --target squaresight_render
if [ $# -eq 0 ]; then
  set -- "$here"/jobs/*/
fi
for job in "$@"; do
  "$build/samples/squaresight_render" "$here/jobs/$(basename "$job")/scene.yaml" --threads "$(nproc)"
done
