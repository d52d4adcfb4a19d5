#!/usr/bin/env bash
# Coverage-guided fuzzing on the stable compiler: tests/fuzz.sh [SECONDS [TARGET...]], 20 s for each target if nothing is said.
# What is found stays in target/fuzz: the corpus for the next run, and inputs that break something as crash-*.
# The flags are those of `cargo fuzz --sanitizer none`; that works as well: `cargo fuzz run -s none log_reader`.
set -euo pipefail
cd "$(dirname "$0")/.."
seconds=${1:-20}
shift $(($# > 0 ? 1 : 0))
targets=("$@")
[ ${#targets[@]} -gt 0 ] || targets=(controller_step settings_file log_reader)

out=$PWD/target/fuzz
host=$(rustc -vV | sed -n 's/^host: //p')
flags="--cfg fuzzing -Cpasses=sancov-module"
for flag in level=4 inline-8bit-counters pc-table trace-compares; do
  flags+=" -Cllvm-args=-sanitizer-coverage-$flag"
done
# With a target named, build scripts and macros are built without the flags.
(cd fuzz && RUSTFLAGS="$flags" CARGO_TARGET_DIR=$out \
  cargo build --quiet --release --locked --target "$host")

fuzz() { # target
  local corpus=$out/corpus/$1
  mkdir -p "$corpus"
  local options=(-max_total_time="$seconds" -timeout=25 -max_len=2048 -artifact_prefix="$out/crash-$1-" -print_final_stats=1)
  [ ! -f "fuzz/$1.dict" ] || options+=(-dict="fuzz/$1.dict")
  if ! "$out/$host/release/$1" "$corpus" "fuzz/seeds/$1" "${options[@]}" >"$out/$1.log" 2>&1; then
    tail -n 40 "$out/$1.log" >&2
    echo "$1: an input breaks something; it is in $out" >&2
    return 1
  fi
  echo "$1: $(sed -n 's/^stat::number_of_executed_units: *//p' "$out/$1.log") inputs in $seconds s, none breaks anything"
}

# At the same time: each is one core at work.
running=()
for target in "${targets[@]}"; do
  fuzz "$target" &
  running+=($!)
done
for target in "${running[@]}"; do
  wait "$target"
done
