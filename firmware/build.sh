#!/usr/bin/env bash
# Builds one board's image: firmware/build.sh pico|emulated [CARGO ARGUMENT …]
#
# With rustup's compiler where rustup has the target or can fetch it, else with Debian's (packages
# rustc-web, cargo-web, rust-web-src, lld-19). TOOLCHAIN=rustup or TOOLCHAIN=debian decides otherwise.
# Says where the image is. The serial line tells which commit it was built from.
set -euo pipefail
cd "$(dirname "$0")/.."
board=${1:-}
config=firmware/boards/$board/.cargo/config.toml
if [ -z "$board" ] || [ ! -f "$config" ]; then
  echo "usage: firmware/build.sh BOARD [CARGO ARGUMENT …]; boards: $(cd firmware/boards && ls -d */.cargo | cut -d/ -f1 | xargs)" >&2
  exit 2
fi
shift
target=$(sed -n 's/^target = "\(.*\)"/\1/p' "$config")
how=${TOOLCHAIN:-}
if [ -z "$how" ]; then
  if command -v rustup >/dev/null && rustup target add "$target" >/dev/null 2>&1; then how=rustup; else how=debian; fi
fi
FIRMWARE_BUILD=${FIRMWARE_BUILD:-$(git describe --always --dirty 2>/dev/null || echo unknown)}
export FIRMWARE_BUILD RUSTC_WRAPPER=$PWD/firmware/rustc.sh
# The same bytes whoever builds, and wherever: crates lie elsewhere on every machine.
crates=${CARGO_HOME:-$HOME/.cargo}
tests/bare.sh "$how" "firmware/boards/$board" "$target" build --release \
  --config "target.$target.rustflags=[\"--remap-path-prefix=$crates=/cargo\"]" "$@"
echo "firmware/boards/$board/target/$target/release/firmware-$board"
