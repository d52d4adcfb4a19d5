#!/usr/bin/env bash
# Builds the simulator as WebAssembly and says where it is: page/build.sh [release|quick]
#
# With rustup's compiler where rustup has the target or can fetch it, else with Debian's (packages rustc-web, cargo-web,
# rust-web-src, lld-19). TOOLCHAIN=rustup or TOOLCHAIN=debian decides otherwise.
# Then: host-sim page --simulator page/dist/simulator.wasm --write try.html
set -euo pipefail
cd "$(dirname "$0")/.."
profile=${1:-release}
target=wasm32-unknown-unknown
how=${TOOLCHAIN:-}
if [ -z "$how" ]; then
  if command -v rustup >/dev/null && rustup target add "$target" >/dev/null 2>&1; then how=rustup; else how=debian; fi
fi
export CARGO_TARGET_DIR=$PWD/target/wasm
# Paths in the messages of panics would tell one folder from another.
export RUSTFLAGS="--remap-path-prefix=$PWD= --remap-path-prefix=${CARGO_HOME:-$HOME/.cargo}=cargo"
tests/bare.sh "$how" page "$target" build --quiet --profile "$profile" >&2
mkdir -p page/dist
cp "$CARGO_TARGET_DIR/$target/$profile/host_sim_page.wasm" page/dist/simulator.wasm
echo page/dist/simulator.wasm
