#!/bin/sh
# The whole gate: format, lint, the wheel, architecture, types, the tests. Arguments go to pytest.
set -eu
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
cd "$root"
# What is compiled is kept, whatever the surroundings say: else each worker rewrites every test for itself, and each
# command that a test starts compiles all of slabhour.
unset PYTHONDONTWRITEBYTECODE

heading() { printf '\n== %s\n' "$1"; }

install_servers() {
    # Debian starts a server when it installs it, unless this file says no; whatever was there comes back.
    policy=/usr/sbin/policy-rc.d
    kept=$(mktemp -d)
    trap 'restore_policy' EXIT
    trap 'exit 129' HUP
    trap 'exit 130' INT
    trap 'exit 143' TERM
    if [ -e "$policy" ]; then cp -p "$policy" "$kept/policy"; fi
    printf '#!/bin/sh\nexit 101\n' >"$policy"
    chmod 755 "$policy"
    { apt-get update && DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends "$@"; } \
        >"$kept/log" 2>&1 </dev/null || { cat "$kept/log" >&2; exit 1; }
    restore_policy
    trap - EXIT HUP INT TERM
}

restore_policy() {
    if [ -e "$kept/policy" ]; then cp -p "$kept/policy" "$policy"; else rm -f "$policy"; fi
    rm -rf "$kept"
}

check_wheel() (
    # The wheel is installed without its dependencies; those come from .venv, whose own slabhour stays out of sight
    # because a .pth file inside a folder named by a .pth file is not read.
    work=$(mktemp -d)
    trap 'rm -rf "$work"' EXIT
    .venv/bin/python -m pip wheel --quiet --no-deps --no-build-isolation --wheel-dir "$work/wheel" .
    .venv/bin/python -m venv --without-pip "$work/venv"
    .venv/bin/python -m pip --quiet --python "$work/venv/bin/python" install --no-deps --no-index "$work"/wheel/*.whl
    site='import sysconfig; print(sysconfig.get_path("purelib"))'
    .venv/bin/python -c "$site" >"$("$work/venv/bin/python" -c "$site")/dependencies.pth"
    cd "$work"
    venv/bin/slabhour --help >help.txt
    venv/bin/python -I "$root/tests/support/installed_wheel.py" "$root" "$work/venv"
)

compile_tests() {
    found=$(.venv/bin/python -m pytest --collect-only -qq) || { printf '%s\n' "$found" >&2; return 1; }
}

if [ "$(id -u)" -eq 0 ] && command -v apt-get >/dev/null; then
    # pg_lsclusters comes with PostgreSQL, whose own programs Debian keeps off the path.
    for program in mosquitto mosquitto_sub openssl influxd victoria-metrics chromium qpdf pdftotext pg_lsclusters; do
        if ! command -v "$program" >/dev/null; then
            heading 'installing the servers and the browser that the tests start, openssl, and what looks at records'
            install_servers mosquitto mosquitto-clients openssl influxdb victoria-metrics chromium fonts-dejavu-core \
                qpdf poppler-utils postgresql
            break
        fi
    done
fi
sh deploy/setup.sh

heading 'format'
.venv/bin/python -m ruff format --check .
heading 'lint'
.venv/bin/python -m ruff check .
# The wheel is made while the tests are compiled, which each of the workers would do for itself; both say nothing unless
# something is wrong.
heading 'wheel, architecture'
check_wheel &
beside=$!
compile_tests
.venv/bin/lint-imports
wait "$beside"
# What the demo records by itself is replayed beside the other tests.
DEMO_RECORD=$(mktemp -d)
export DEMO_RECORD
types_said=$(mktemp)
types=
finish() {
    if [ -n "$types" ]; then kill "$types" 2>/dev/null || :; fi
    rm -rf "$DEMO_RECORD" "$types_said"
}
trap 'finish' EXIT
trap 'exit 129' HUP
trap 'exit 130' INT
trap 'exit 143' TERM
heading 'tests that need the machine to themselves, and beside them types'
# The types take only what those tests leave: they wait for hours of a site to pass.
nice -n 19 .venv/bin/python -m mypy . >"$types_said" 2>&1 &
types=$!
# 5: of those that were asked for, none does.
.venv/bin/python -m pytest -m quiet "$@" || [ "$?" -eq 5 ]
wait "$types" || { cat "$types_said" >&2; exit 1; }
types=
cat "$types_said"
heading 'the other tests'
# Two workers more than cores: many tests wait, for a disk, a browser or a minute to pass. A module is one worker's, so
# that what its tests share is made once; in their order, so that the long ones are begun first.
.venv/bin/python -m pytest -m 'not quiet' --numprocesses "$(($(nproc) + 2))" --dist loadfile --no-loadscope-reorder "$@"
