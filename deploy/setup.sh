#!/bin/sh
# Make .venv in the checkout with everything pinned in deploy/constraints.txt and slabhour itself, editable.
# Called by demo.sh and test.sh; does nothing when .venv is already what it should be.
set -eu
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
cd "$root"

say() { printf 'slabhour set-up: %s\n' "$1"; }
give_up() {
    printf 'slabhour set-up: %s\n' "$1" >&2
    exit 1
}

python=
for candidate in python3 python3.14 python3.13 python3.12 python3.11; do
    if "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
        python=$candidate
        break
    fi
done
[ -n "$python" ] || give_up 'Python 3.11 or newer is needed and was not found; install the package python3.'

# What .venv was made from; the folder counts, because a virtual environment cannot be moved.
digest() {
    "$python" -c '
import hashlib, sys
found = hashlib.sha256(repr((sys.argv[1], sys.version_info[:2])).encode())
found.update(open(sys.argv[2], "rb").read())
print(found.hexdigest())' "$root" "$1"
}
pins=$(digest deploy/constraints.txt)
self=$(digest pyproject.toml)
as_made() { [ "$(cat ".venv/$1" 2>/dev/null)" = "$2" ]; }
if as_made made-from-pins "$pins" && as_made made-from-self "$self"; then exit 0; fi

makes_venvs() { "$python" -m venv --help >/dev/null 2>&1 && "$python" -m ensurepip --version >/dev/null 2>&1; }
install_venv() {
    missing='Python here cannot make virtual environments; install the package python3-venv and run this again.'
    if [ "$(id -u)" -ne 0 ] || ! command -v apt-get >/dev/null; then give_up "$missing"; fi
    say 'installing the package python3-venv'
    log=$(mktemp)
    { apt-get update && DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends python3-venv; } \
        >"$log" 2>&1 </dev/null || { cat "$log" >&2; rm -f "$log"; give_up "$missing"; }
    rm -f "$log"
    makes_venvs || give_up "$missing"
}

if ! as_made made-from-pins "$pins"; then
    makes_venvs || install_venv
    say 'making .venv'
    "$python" -m venv --clear .venv || give_up 'the folder .venv could not be made here.'
    say 'installing the pinned packages (a minute or two)'
    .venv/bin/python -m pip install -qq --disable-pip-version-check --require-hashes -r deploy/constraints.txt ||
        give_up 'the pinned packages could not be installed; the lines above say why.'
    printf '%s\n' "$pins" >.venv/made-from-pins
fi
say 'installing slabhour'
.venv/bin/python -m pip install -qq --disable-pip-version-check --no-deps --no-build-isolation -e . ||
    give_up 'slabhour itself could not be installed; the lines above say why.'
printf '%s\n' "$self" >.venv/made-from-self
say 'ready'
