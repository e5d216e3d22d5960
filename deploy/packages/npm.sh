#!/bin/sh
# SPDX-License-Identifier: MIT
# Installs what a folder's package-lock.json names, with whatever npm is there (Debian's where none
# is). A registry that falls silent is asked again: npm itself waits five minutes, then gives up.
#
#   deploy/packages/npm.sh FOLDER
#
# Told first, and refused by INSTALL_PACKAGES=no, as in install.sh.
set -eu

here=$(dirname "$0")
echo "npm installs into $1/node_modules what $1/package-lock.json names, which is not there or not of"
echo "this version. To refuse: make INSTALL_PACKAGES=no"
if [ "${INSTALL_PACKAGES:-yes}" = no ]; then
    echo "Nothing is installed (INSTALL_PACKAGES=no). Yourself: npm ci --prefix $1" >&2
    exit 1
fi
command -v npm >/dev/null || "$here/install.sh" "$here/npm.txt"

for try in 1 2 3; do
    npm ci --prefix "$1" --no-audit --no-fund --prefer-offline --fetch-timeout=45000 && exit 0
    echo "npm ci --prefix $1: try $try of 3 failed" >&2
done
exit 1
