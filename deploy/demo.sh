#!/bin/sh
# Set up, then show a virtual site at work. Options are handed on: sh deploy/demo.sh --help
set -eu
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
sh "$root/deploy/setup.sh"
exec "$root/.venv/bin/slabhour" demo "$@"
