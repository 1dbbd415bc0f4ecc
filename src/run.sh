#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Installs what is missing, builds, and opens the window on the demo vehicle in the practice bay, measured and tuned; that
# is done once, with the first run, and what is changed in the window afterwards stays. Where there is no display, or with --headless, the whole demo job runs without a window and leaves its report and tables in a folder:
# build/demo, or the one named by --folder FOLDER. It may be run again; the files of the last run are replaced.
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

cabinwright()
{
  "$build/src/cabinwright-cli" "$@"
}

# has_verb VERB: whether the console program knows it.
has_verb()
{
  cabinwright --help | grep -q "^  $1 "
}

# The demo vehicle through every stage, without a window. All of it is made aside and moved to its folder when it is whole.
run_demo_headless()
{
  new=$(mktemp -d "$build/demo-in-the-making.XXXXXX")
  trap 'rm -rf "$new"' EXIT
  car=$new/alder-tourer.cabin
  if has_verb tracks; then
    cabinwright tracks "$new/tracks"
  fi
  cabinwright practice "$car"
  cabinwright table "$car" --out "$new/alder-tourer-table.json" --format json
  cabinwright table "$car" --out "$new/alder-tourer-table.csv" --format csv
  cabinwright report "$car" --out "$new/alder-tourer-report.pdf"
  cabinwright check "$car"
  cabinwright check "$new/alder-tourer-table.json"
  mkdir -p "$demo"
  if [ -d "$new/tracks" ]; then
    rm -rf "$demo/tracks"
  fi
  mv -f "$new"/* "$demo"/
  say_what_is_there
}

say_what_is_there()
{
  cat <<END

The demo job is done: the Alder Tourer was measured in the practice bay and tuned. Found on the way:

END
  cabinwright findings "$demo/alder-tourer.cabin"
  cat <<END

Report:   $demo/alder-tourer-report.pdf
Tables:   $demo/alder-tourer-table.json
          $demo/alder-tourer-table.csv
Vehicle:  $demo/alder-tourer.cabin
END
  if [ -d "$demo/tracks" ]; then
    echo "Tracks:   $demo/tracks"
  fi
}

# The demo vehicle, measured and tuned in the practice bay: half a minute of work, so it is kept. A run that is interrupted
# leaves nothing half done behind.
make_demo_vehicle()
{
  new=$(mktemp -d "$build/demo-in-the-making.XXXXXX")
  trap 'rm -rf "$new"' EXIT
  echo "Measuring and tuning the demo vehicle in the practice bay, once:"
  cabinwright practice "$new/alder-tourer.cabin"
  mkdir -p "$demo"
  mv "$new"/* "$demo"/
  rm -rf "$new"
  trap - EXIT
}

open_demo_window()
{
  if [ ! -f "$demo/alder-tourer.cabin" ]; then
    make_demo_vehicle
  fi
  exec "$build/src/cabinwright" "$demo/alder-tourer.cabin"
}

wrong_usage()
{
  echo "usage: sh src/run.sh [--headless] [--folder FOLDER]" >&2
  exit 2
}

headless=no
demo=$build/demo
while [ $# -gt 0 ]; do
  case $1 in
  --headless) headless=yes ;;
  --folder)
    if [ -z "${2:-}" ]; then
      wrong_usage
    fi
    demo=$2
    headless=yes
    shift
    ;;
  *) wrong_usage ;;
  esac
  shift
done

# shellcheck disable=SC2086  # the list is words
install_missing $packages_to_build
build_quietly
if [ "$headless" = no ] && have_display; then
  open_demo_window
else
  run_demo_headless
fi
