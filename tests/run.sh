#!/usr/bin/env bash
# Installs what the tests need and runs all of them. Needs only git, cargo and apt on the machine;
# `tests/run.sh quick` leaves out the fuzzing and what needs the cross compiler.
set -euo pipefail
cd "$(dirname "$0")/.."
quick=${1:-}

say() { printf '\n== %s (%d min)\n' "$*" $((SECONDS / 60)); }
as_root() { if [ "$(id -u)" = 0 ]; then "$@"; else sudo "$@"; fi; }

# --- what is needed ---------------------------------------------------------------------------
need=()
have() { command -v "$1" >/dev/null 2>&1; }
have cc || need+=(gcc libc6-dev)
have c++ || [ -n "$quick" ] || need+=(g++)
cross=none
if [ -z "$quick" ]; then
  if have rustup && rustup target add thumbv6m-none-eabi thumbv7m-none-eabi thumbv7em-none-eabihf wasm32-unknown-unknown >/dev/null 2>&1; then
    cross=rustup
  else
    # Debian's compiler with its library source builds the bare-metal targets.
    cross=debian
    [ -x /usr/bin/cargo ] && [ -d /usr/lib/rustlib/src/rust/library ] || need+=(rustc-web cargo-web rust-web-src)
    [ -x /usr/bin/cargo-clippy ] || need+=(rust-web-clippy)
    have ld.lld-19 || need+=(lld-19)
  fi
  have arm-none-eabi-as || need+=(binutils-arm-none-eabi)
  have qemu-system-arm || need+=(qemu-system-arm)
  have node || need+=(nodejs)
  have npm || need+=(npm)
  have mosquitto || [ -x /usr/sbin/mosquitto ] || need+=(mosquitto)
  have mosquitto_sub || need+=(mosquitto-clients)
  have chromium || have google-chrome || need+=(chromium)
  have firefox-esr || have firefox || need+=(firefox-esr)
fi
if ! cargo fmt --version >/dev/null 2>&1 || ! cargo clippy --version >/dev/null 2>&1; then
  if have rustup; then rustup component add rustfmt clippy; else need+=(rustfmt-web rust-web-clippy); fi
fi
if [ ${#need[@]} -gt 0 ]; then
  say "installing ${need[*]}"
  as_root apt-get update -qq
  as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${need[@]}"
fi

# Keeping parts for the next build makes this one slower, and so do line numbers in backtraces; a panic names its line without.
export CARGO_INCREMENTAL=0 CARGO_PROFILE_DEV_DEBUG=false

# --- the tests --------------------------------------------------------------------------------
say "$(cargo --version), $(rustc --version)"
say "formatting"
cargo fmt --all --check
say "lints"
cargo clippy --workspace --all-targets --locked -- -D warnings
# What the debugger's log adds is in these two alone.
cargo clippy -p controller-core -p firmware-app --features firmware-app/defmt --locked -- -D warnings
# What a registry would get of the core is complete.
cargo package -p controller-core --locked --allow-dirty --no-verify --quiet
# The fuzzing workspace has its own lock file, which follows host-sim's dependencies.
cargo metadata --locked --format-version 1 --manifest-path fuzz/Cargo.toml >/dev/null
say "documentation"
RUSTDOCFLAGS="-D warnings" cargo doc --workspace --no-deps --locked --quiet

if [ "$cross" != none ]; then
  say "bare-metal builds and firmware ($cross)"
  # At the same time: much of either is one core at work.
  tests/cross.sh "$cross" &
  core=$! firmware=0
  tests/firmware.sh "$cross" || firmware=$?
  wait "$core"
  [ "$firmware" = 0 ]
fi

if [ -z "$quick" ]; then
  say "the page, in node and in a browser"
  tests/page.sh "$cross"
  say "fuzzing, a short run"
  tests/fuzz.sh 20
fi

# Last, so that the test runner's own lines close the run.
say "tests"
cargo test --workspace --locked --test cli -- --ignored
cargo test --workspace --locked
