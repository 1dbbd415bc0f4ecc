#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Installs what is missing, builds, and opens the window on the demo vehicle in the practice bay. Where there is no
# display, the whole demo job runs headless and its report and tables are left in build/demo.
set -eu

house=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
build=$house/build
. "$house/src/dependencies.sh"

# quietly COMMAND...: shows what the command says only when it fails, and then ends the script.
quietly()
{
  log=$(mktemp)
  if ! "$@" >"$log" 2>&1; then
    cat "$log" >&2
    rm -f "$log"
    exit 1
  fi
  rm -f "$log"
}

build_quietly()
{
  if [ ! -f "$build/build.ninja" ]; then
    rm -rf "$build"
    quietly meson setup "$build" "$house"
  fi
  quietly ninja -C "$build"
}

have_display()
{
  [ -n "${WAYLAND_DISPLAY:-}" ] || [ -n "${DISPLAY:-}" ]
}

# The demo vehicle through every stage, without a window.
run_demo_headless()
{
  demo=$build/demo
  car=$demo/alder-tourer.cabin
  mkdir -p "$demo"
  rm -f "$car"
  "$build/src/cabinwright-cli" new "$car" "$house/data/demo/alder-tourer.json"
  "$build/src/cabinwright-cli" practice "$car"
  "$build/src/cabinwright-cli" table "$car" --out "$demo/alder-tourer-table.json" --format json
  "$build/src/cabinwright-cli" report "$car" --out "$demo/alder-tourer-report.pdf"
  echo "Report: $demo/alder-tourer-report.pdf"
  echo "Table:  $demo/alder-tourer-table.json"
}

open_demo_window()
{
  exec "$build/src/cabinwright" --practice
}

# shellcheck disable=SC2086  # the list is words
install_missing $packages_to_build
build_quietly
if have_display && [ -x "$build/src/cabinwright" ]; then
  open_demo_window
elif [ -x "$build/src/cabinwright-cli" ]; then
  run_demo_headless
else
  echo "Built, but $build/src holds no program to run." >&2
  exit 1
fi
