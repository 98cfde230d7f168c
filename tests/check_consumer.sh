#!/usr/bin/env bash
# Installs the build given as $1 into a scratch folder, and builds and runs a program against it.
# Also: a configuration without tests asks for no test package.
set -euo pipefail
source_dir=$(cd "$(dirname "$0")/.." && pwd)
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
cmake --install "$1" --prefix "$scratch/installed" >/dev/null
"$scratch/installed/bin/squaresight" --version
cmake -S "$source_dir/tests/consumer" -B "$scratch/consumer" -G Ninja \
  -DCMAKE_PREFIX_PATH="$scratch/installed" >/dev/null
cmake --build "$scratch/consumer" >/dev/null
"$scratch/consumer/consumer"
cmake -S "$source_dir" -B "$scratch/plain" -G Ninja -DBUILD_TESTING=OFF \
  -DCMAKE_DISABLE_FIND_PACKAGE_GTest=ON -DCMAKE_DISABLE_FIND_PACKAGE_benchmark=ON >/dev/null
