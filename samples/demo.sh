#!/usr/bin/env bash
# The demo shop in one command: installs what is missing, builds, measures every sample job, and
# ends by saying where the reports are and what they say.
set -euo pipefail
cd "$(dirname "$0")/.."
bash .ci/install-packages.sh

echo "Building (the first time takes a few minutes) ..."
mkdir -p build
if ! { cmake --preset release &&
       cmake --build build/release --target squaresight_cli; } > build/build.log 2>&1; then
  tail -20 build/build.log
  echo "The build failed; all of it is in build/build.log" >&2
  exit 1
fi

summary=""
for sheet in samples/jobs/*/job.yaml; do
  folder=$(dirname "$sheet")
  echo "Measuring $folder ..."
  words=$(build/release/squaresight measure "$sheet")
  first_words=$(awk 'NF == 0 { exit } { print "    " $0 }' <<< "$words")
  summary+=$(printf '\n%s\n%s\n    report: %s/job.report.html\n ' \
    "$(basename "$folder")" "$first_words" "$folder")
done

echo
echo "The reports, and what each says first:"
printf '%s\n' "$summary"
