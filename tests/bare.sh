#!/usr/bin/env bash
# cargo for bare metal, with rustup's compiler or with Debian's and its library source:
#
#   tests/bare.sh rustup|debian DIRECTORY TARGET SUBCOMMAND [ARGUMENT …]
#
# Debian's compiler has no library for these targets, so it builds `core` itself (for WebAssembly all of `std`), which cargo
# lets it do only with RUSTC_BOOTSTRAP; and it does not bring a linker of its own.
set -euo pipefail
how=$1 directory=$2 target=$3
shift 3
cd "$directory"
case $how in
  rustup) exec cargo "$1" --locked --target "$target" "${@:2}" ;;
  debian)
    linker="CARGO_TARGET_$(tr a-z- A-Z_ <<<"$target")_LINKER"
    case $target in
      wasm32-*) library=std,panic_abort lld=wasm-ld-19 ;;
      *) library=core lld=ld.lld-19 ;;
    esac
    exec env PATH="/usr/bin:$PATH" RUSTC_BOOTSTRAP=1 "$linker=$lld" \
      cargo "$1" --locked "-Zbuild-std=$library" --target "$target" "${@:2}"
    ;;
  *)
    echo "$0: found compiler \"$how\"; expected rustup or debian" >&2
    exit 2
    ;;
esac
