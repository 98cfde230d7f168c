#!/usr/bin/env bash
# The demo shop in one command: installs what is missing, builds, calibrates the phone, measures
# every sample job, and ends by saying where the reports are and what they say.
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

echo "Calibrating the phone ..."
rm -f build/our-phone.yaml build/our-phone.html
build/release/squaresight calibrate \
  --board targets/checkerboard-a3.yaml --board targets/bay-a1.yaml samples/calibration/near-*.jpg \
  --taped "5001.3 mm +/- 2 mm" samples/calibration/far-*.jpg \
  --still samples/calibration/still-*.jpg --date 2026-02-17 --out build/our-phone.yaml

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
