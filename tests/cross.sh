#!/usr/bin/env bash
# Builds the core for two microcontroller families, links it without a panic handler (which works
# only if it cannot panic), looks for software floating point and holds the core to its size:
# tests/cross.sh rustup|debian
# Needs the tools of binutils-arm-none-eabi; tests/run.sh installs them.
set -euo pipefail
cd "$(dirname "$0")/.."
how=$1

# Flash one decision may take: 24 KiB.
CORE_MOST=24576

export CARGO_TARGET_DIR="$PWD/target/cross"
build() { # target, further arguments
  tests/bare.sh "$how" tests/no-panic "$1" build --quiet "${@:2}"
}

for target in thumbv6m-none-eabi thumbv7em-none-eabihf; do
  build "$target" --release
  echo "$target: core builds; no panic path at opt-level s"
done
build thumbv6m-none-eabi --profile fast
echo "thumbv6m-none-eabi: no panic path at opt-level 3"

tests/no-link.sh tests/bare.sh "$how" tests/no-panic thumbv6m-none-eabi build --quiet --release --features bug

image="$CARGO_TARGET_DIR/thumbv6m-none-eabi/release/no-panic"
build thumbv6m-none-eabi --release
symbols=$(arm-none-eabi-nm "$image")
if ! grep -q ' _start$' <<<"$symbols"; then
  echo "$image: found no symbol _start; expected the symbols of the image; build it without stripping" >&2
  exit 1
fi
if grep -iE '__aeabi_[fd](add|sub|mul|div|cmp|2)|__(add|sub|mul|div)[sd]f3' <<<"$symbols" >&2; then
  echo "software floating point in the core (above)" >&2
  exit 1
fi
echo "no software floating point in the core"

used=$(arm-none-eabi-size "${image%/*}/step_only" | awk 'NR == 2 { print $1 + $2 }')
echo "one decision, without the trace's text: $used of $CORE_MOST bytes of flash (thumbv6m, opt-level s)"
if [ "$used" -gt "$CORE_MOST" ]; then
  echo "the core is too large" >&2
  exit 1
fi
