#!/usr/bin/env bash
# The compiler as cargo calls it for images (RUSTC_WRAPPER): rustc, but blind to the folder in which this project lies,
# so that every folder gives the same bytes.
#
# Cargo's hash of a package that lies outside its workspace's own folder, as most of an image's do, holds the
# folder's name and decides what is linked in which order; here the package's name stands for it.
set -euo pipefail
root=$(cd "$(dirname "$0")/.." && pwd -P)
compiler=$1
shift
arguments=()
for argument; do
  case $argument in
    metadata=*) case ${CARGO_MANIFEST_DIR:-} in "$root"/*) argument=metadata=$CARGO_PKG_NAME ;; esac ;;
  esac
  arguments+=("$argument")
done
exec "$compiler" "${arguments[@]}" --remap-path-prefix="$root=/project"
