#!/bin/sh
# SPDX-License-Identifier: MIT
# Installs what a folder's package-lock.json names, with whatever npm is there (Debian's where none
# is). A registry that falls silent is asked again: npm itself waits five minutes, then gives up.
#
#   deploy/packages/npm.sh FOLDER
set -eu

here=$(dirname "$0")
command -v npm >/dev/null || "$here/install.sh" "$here/npm.txt"

for try in 1 2 3; do
    npm ci --prefix "$1" --no-audit --no-fund --prefer-offline --fetch-timeout=45000 && exit 0
    echo "npm ci --prefix $1: try $try of 3 failed" >&2
done
exit 1
