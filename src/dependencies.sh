# SPDX-License-Identifier: GPL-3.0-or-later
# The Debian packages the project needs, and the step that installs what is missing.
# Read into src/run.sh and tests/run.sh (POSIX sh); run alone, it installs both lists.

packages_to_build='
  meson ninja-build pkg-config gcc libc6-dev
  libgtk-4-dev portaudio19-dev libfftw3-dev libsndfile1-dev libjson-glib-dev libsqlite3-dev libsoxr-dev
  gettext desktop-file-utils appstream shared-mime-info itstool libxml2-utils yelp-tools
  adwaita-icon-theme fonts-dejavu-core'

packages_to_test='
  locales python3 python3-scipy python3-gi gir1.2-atspi-2.0 at-spi2-core
  xvfb xauth xdotool dbus dbus-x11 x11-utils imagemagick
  pulseaudio pulseaudio-utils libasound2-plugins alsa-utils
  poppler-utils libmysofa-dev clang libclang-rt-14-dev'

# missing_of PACKAGE...: those that are not installed, on one line.
missing_of()
{
  for package in "$@"; do
    state=$(dpkg-query -W -f='${db:Status-Status}' "$package" 2>/dev/null) || state=
    [ "$state" = installed ] || printf '%s ' "$package"
  done
}

as_root()
{
  if [ "$(id -u)" -eq 0 ]; then
    env DEBIAN_FRONTEND=noninteractive "$@"
  else
    sudo env DEBIAN_FRONTEND=noninteractive "$@"
  fi
}

# install_missing PACKAGE...: installs what is not there. Silent when nothing is missing; ends the script when it cannot.
install_missing()
{
  if ! command -v dpkg-query >/dev/null 2>&1; then
    echo 'Cannot install: this is not a Debian system; install by hand what src/dependencies.sh lists.' >&2
    exit 1
  fi
  missing=$(missing_of "$@")
  [ -n "$missing" ] || return 0
  if [ "$(id -u)" -ne 0 ] && ! command -v sudo >/dev/null 2>&1; then
    echo "Cannot install (neither root nor sudo): $missing" >&2
    exit 1
  fi
  echo "Installing: $missing" >&2
  install_log=$(mktemp)
  # A stale package list is better than none: the failure that counts is that of the installation.
  as_root apt-get -q update >"$install_log" 2>&1 || true
  # shellcheck disable=SC2086  # the list is words
  as_root apt-get -q -y --no-install-recommends install $missing >>"$install_log" 2>&1 || true
  missing=$(missing_of "$@")
  if [ -n "$missing" ]; then
    grep '^E:' "$install_log" >&2 || tail -n 5 "$install_log" >&2
    rm -f "$install_log"
    echo "Cannot install: $missing" >&2
    exit 1
  fi
  rm -f "$install_log"
}

case ${0##*/} in
dependencies.sh)
  # shellcheck disable=SC2086  # the lists are words
  install_missing $packages_to_build $packages_to_test
  ;;
esac
