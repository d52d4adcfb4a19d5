#!/usr/bin/env bash
# Builds the board that ports start from, holds it to 100 lines of code, and asks it over its serial line who it is.
set -euo pipefail
cd "$(dirname "$0")/../firmware/boards/template"
MOST_LINES=100

lines=$(grep -cvE '^[[:space:]]*(//|$)' src/main.rs)
if [ "$lines" -gt "$MOST_LINES" ]; then
  echo "src/main.rs: found $lines lines of code; expected at most $MOST_LINES; move what every board needs to firmware/app" >&2
  exit 1
fi
cargo clippy --quiet --locked -- -D warnings
cargo build --quiet --locked
# Two seconds: the first decision comes before they are over.
said=$( (sleep 1; printf 'status\n'; sleep 1) | timeout 2 target/debug/firmware-template || [ $? = 124 ])
for expected in 'hello; version=.* board=template ' 'row .*boot power_on' 'status time_s=.* board=template '; do
  if ! grep -qE "^$expected" <<<"$said"; then
    printf '%s\n' "$said" >&2
    echo "the template's serial line: found no line \"$expected\" (above)" >&2
    exit 1
  fi
done
echo "template: a board in $lines lines; it decides and answers"
