#!/usr/bin/env bash
# Builds everything and runs every test: the fast tier, then the slow one. Installs what is missing
# from .ci/packages.txt. Last line: "N passed, N failed"; exit 1 when a test failed.
#   bash tests/run.sh          all
#   bash tests/run.sh fast     the fast tier only
set -uo pipefail
cd "$(dirname "$0")/.."
bash .ci/install-packages.sh || exit 1
tiers=("${1:-all}")
[ "${tiers[0]}" = all ] && tiers=(fast slow)

jobs=$(nproc)
cmake --preset release >/dev/null || { cmake --preset release; echo "0 passed, 1 failed"; exit 1; }
if ! cmake --build build/release -j "$jobs" > build/build.log 2>&1; then
  grep -E "error|FAILED" build/build.log | head -40
  echo "The build failed: build/build.log"
  echo "0 passed, 1 failed"
  exit 1
fi

total=0
failed=0
for tier in "${tiers[@]}"; do
  echo "== $tier tier"
  log=build/ctest-$tier.log
  ctest --test-dir build/release -L "^$tier\$" -j "$jobs" --output-on-failure --no-tests=error \
    > "$log" 2>&1
  status=$?
  summary=$(grep -E '^[0-9]+% tests passed' "$log" || true)
  if [ -z "$summary" ]; then
    tail -20 "$log"
    failed=$((failed + 1))
    continue
  fi
  of=$(sed -E 's/.*out of ([0-9]+).*/\1/' <<< "$summary")
  bad=$(sed -E 's/.*passed, ([0-9]+) tests? failed.*/\1/' <<< "$summary")
  total=$((total + of - bad))
  failed=$((failed + bad))
  [ $status -eq 0 ] || grep -vE '^ *[0-9]+/[0-9]+ Test.*Passed|^ +Start ' "$log" | tail -200
  grep -E "Total Test time" "$log"
done
echo "$total passed, $failed failed"
[ "$failed" -eq 0 ]
