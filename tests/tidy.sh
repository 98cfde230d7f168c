#!/usr/bin/env bash
# clang-tidy over the library and the program (minutes): bash tests/tidy.sh [FILE...]
set -euo pipefail
cd "$(dirname "$0")/.."
[ -f build/debug/compile_commands.json ] || cmake --preset debug >/dev/null
files=("$@")
[ ${#files[@]} -gt 0 ] || mapfile -t files < <(git ls-files 'src/*.cpp')
printf '%s\n' "${files[@]}" | xargs -P "$(nproc)" -n 1 clang-tidy -p build/debug --quiet \
  --extra-arg=-Wno-unknown-warning-option 2>/dev/null
echo "clang-tidy: ${#files[@]} files are clean"
