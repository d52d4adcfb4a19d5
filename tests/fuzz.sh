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

for target in "${targets[@]}"; do
  corpus=$out/corpus/$target
  mkdir -p "$corpus"
  options=(-max_total_time="$seconds" -timeout=25 -max_len=2048 -artifact_prefix="$out/crash-$target-" -print_final_stats=1)
  [ ! -f "fuzz/$target.dict" ] || options+=(-dict="fuzz/$target.dict")
  if ! "$out/$host/release/$target" "$corpus" "fuzz/seeds/$target" "${options[@]}" >"$out/$target.log" 2>&1; then
    tail -n 40 "$out/$target.log" >&2
    echo "$target: an input breaks something; it is in $out" >&2
    exit 1
  fi
  runs=$(sed -n 's/^stat::number_of_executed_units: *//p' "$out/$target.log")
  echo "$target: $runs inputs in $seconds s, none breaks anything"
done
