#!/usr/bin/env bash
# Includes run upward only: a file of a room includes headers of its own room and of lower rooms.
# Rooms from the lowest; rooms on one line stand side by side, the later may use the earlier.
set -euo pipefail
cd "$(dirname "$0")/.."
rooms=(units frames target photo render camera sight adjust mount tape agreement job records review simulate plan calibrate report bay cli)
rank() {
  local i
  for i in "${!rooms[@]}"; do [ "${rooms[$i]}" = "$1" ] && { echo "$i"; return; }; done
  echo -1
}
bad=0
checked=0
for file in src/*/*.h src/*/*.cpp; do
  room=$(basename "$(dirname "$file")")
  own=$(rank "$room")
  if [ "$own" -lt 0 ]; then
    echo "$file: '$room' is no room of the design"; bad=1; continue
  fi
  while read -r included; do
    checked=$((checked + 1))
    theirs=$(rank "${included%%/*}")
    if [ "$theirs" -lt 0 ] || [ "$theirs" -gt "$own" ]; then
      echo "$file: includes \"$included\", which is not in a room below '$room'"; bad=1
    fi
  done < <(sed -nE 's/^#include "([^"]+)".*/\1/p' "$file")
done
[ "$checked" -gt 50 ] || { echo "only $checked includes were seen: is the check broken?"; bad=1; }
exit $bad
