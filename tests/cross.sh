#!/usr/bin/env bash
# Builds the core for two microcontroller families, links it without a panic handler (which works
# only if it cannot panic) and looks for software floating point.
set -euo pipefail
cd "$(dirname "$0")/.."
how=$1

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

if build thumbv6m-none-eabi --release --features bug 2>/dev/null; then
  echo "the panic check cannot fail: a planted panic linked" >&2
  exit 1
fi
echo "a planted panic does not link, as it must"

image="$CARGO_TARGET_DIR/thumbv6m-none-eabi/release/no-panic"
build thumbv6m-none-eabi --release
floats=$(nm "$image" | grep -ciE '__aeabi_[fd](add|sub|mul|div|cmp|2)|__(add|sub|mul|div)[sd]f3' || true)
if [ "$floats" != 0 ]; then
  echo "software floating point in the core:" >&2
  nm "$image" | grep -iE '__aeabi_[fd]|__(add|sub|mul|div)[sd]f3' >&2
  exit 1
fi
echo "no software floating point in the core"

used=$(arm-none-eabi-size "${image%/*}/step_only" | awk 'NR == 2 { print $1 + $2 }')
echo "one decision, without the trace's text: $used bytes of flash (thumbv6m, opt-level s)"
