#!/bin/sh
# SPDX-License-Identifier: MIT
# Installs the Debian packages of the lists given, but only those that are missing; says nothing
# and is quick where none is.
#
#   deploy/packages/install.sh deploy/packages/build.txt [LIST]...
#
# Works with nothing but sh, dpkg and apt-get. Uses sudo where it does not run as root. What is going
# to be installed is told first; on a terminal there is a moment to say no. INSTALL_PACKAGES=no in the
# environment, or behind make, installs nothing: what is missing is told, and it fails.
set -eu

wanted=$(sed -e 's/#.*//' "$@")

if ! command -v dpkg-query >/dev/null 2>&1 || ! command -v apt-get >/dev/null 2>&1; then
    echo "not a Debian system; what cairn needs from elsewhere goes there by these names:" >&2
    echo "$wanted" | xargs echo " " >&2
    exit 0
fi

missing=
for package in $wanted; do
    status=$(dpkg-query -W -f '${db:Status-Status} ' "$package" 2>/dev/null || true)
    case " $status" in
    *" installed "*) ;;
    *) missing="$missing $package" ;;
    esac
done
[ -n "$missing" ] || exit 0

cat <<END
cairn needs Debian packages that are not installed here:
 $missing
What each is for: $*
END
if [ "${INSTALL_PACKAGES:-yes}" = no ]; then
    echo "Nothing is installed (INSTALL_PACKAGES=no). As root: apt-get install$missing" >&2
    exit 1
fi

as_root=
if [ "$(id -u)" -ne 0 ]; then
    as_root=sudo
    if ! command -v sudo >/dev/null 2>&1; then
        echo "As root, run: apt-get install$missing" >&2
        exit 1
    fi
fi

echo "They are installed now, by ${as_root:+$as_root }apt-get. To refuse: make INSTALL_PACKAGES=no"
if [ -t 1 ]; then
    echo "(or Ctrl-C within five seconds)"
    sleep 5
fi
apt() {
    $as_root env DEBIAN_FRONTEND=noninteractive apt-get -q -o DPkg::Lock::Timeout=300 \
        -o Acquire::Retries=3 "$@"
}
# The lists of a fresh machine are empty; an update that fails may still leave usable ones.
apt update || echo "apt-get update failed; trying with the lists that are here" >&2
# shellcheck disable=SC2086  # a list of words on purpose
apt -y install --no-install-recommends $missing
