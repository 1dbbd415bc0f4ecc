#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Runs a command with a sound server of its own: a sink that is a wire, whose monitor is the source, under a home that is thrown
# away afterwards. The sound devices of the machine are not touched.
#
#   pulse-bench.sh COMMAND [ARGUMENT...]
#
# The command finds one device, "bench", through the same sound system that a real interface is found through, and
#   PULSE_SERVER     the server, for pactl and the like
#   BENCH_DEVICE     the device's name as cabinwright-sound lists it
#   BENCH_RATE_HZ    the wire's rate
# Exit: the command's, or 77 where no server can be started.

set -u
RATE_HZ=${BENCH_RATE_HZ:-48000}
home=$(mktemp -d "${TMPDIR:-/tmp}/cabinwright-bench-XXXXXX") || exit 77
server=
awake=

clean() {
  [ -n "$awake" ] && kill $awake 2>/dev/null
  [ -n "$server" ] && kill "$server" 2>/dev/null && wait "$server" 2>/dev/null
  rm -rf "$home"
}
trap clean EXIT
trap 'exit 130' INT TERM

command -v pulseaudio >/dev/null 2>&1 || { echo "no pulseaudio here" >&2; exit 77; }

mkdir -m 700 "$home/run"
export HOME="$home" XDG_RUNTIME_DIR="$home/run" XDG_CONFIG_HOME="$home/config" PULSE_RUNTIME_PATH="$home/run"
export PULSE_STATE_PATH="$home/state"
unset DBUS_SESSION_BUS_ADDRESS DISPLAY

# Whole numbers between one sample and the next: no resampling, no volume, no dither on the wire.
pulseaudio -n --daemonize=no --use-pid-file=no --exit-idle-time=-1 --disable-shm=yes --log-target=stderr --log-level=error \
  -L "module-native-protocol-unix socket=$home/run/native auth-anonymous=1" \
  -L "module-null-sink sink_name=bench format=float32le rate=$RATE_HZ channels=2 channel_map=front-left,front-right" \
  >"$home/log" 2>&1 &
server=$!
export PULSE_SERVER="unix:$home/run/native"

tries=0
until pactl info >/dev/null 2>&1; do
  tries=$((tries + 1))
  if [ $tries -gt 50 ] || ! kill -0 "$server" 2>/dev/null; then
    echo "the sound server does not start:" >&2
    cat "$home/log" >&2
    exit 77
  fi
  sleep 0.1
done
pactl set-default-sink bench && pactl set-default-source bench.monitor || exit 77

# A wire that nobody listens to dozes for two seconds at a time: a silent listener and a silent player keep it awake, as the clock
# of a real interface would.
pacat --playback --device=bench --latency-msec=10 --raw /dev/zero &
awake=$!
pacat --record --device=bench.monitor --latency-msec=10 --raw >/dev/null &
awake="$awake $!"

cat >"$home/.asoundrc" <<END
pcm.bench {
  type pulse
  server "$PULSE_SERVER"
  device "bench"
  handle_underrun 1
  hint.description "bench"
}
pcm.bench_monitor {
  type pulse
  server "$PULSE_SERVER"
  device "bench.monitor"
  handle_underrun 1
  hint.description "bench monitor"
}
ctl.bench {
  type pulse
  server "$PULSE_SERVER"
}
END
export BENCH_DEVICE="ALSA: bench" BENCH_INPUT_DEVICE="ALSA: bench_monitor" BENCH_RATE_HZ="$RATE_HZ"
"$@"
status=$?
exit $status
