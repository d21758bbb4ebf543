#!/bin/sh
# Put the two units in their place, for the code that this is part of and the site that `slabhour init` made, and start
# them. Run by root; again after an upgrade. Where systemd does not run, or another folder is named for the units, they
# are written and nothing else is done.
#   SITE    folder of the site        (/srv/slabhour)
#   UNITS   folder of the units       (/etc/systemd/system)
set -eu
here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
code=$(CDPATH='' cd -- "$here/../.." && pwd)
site=${SITE:-/srv/slabhour}
units=${UNITS:-/etc/systemd/system}

say() { printf 'slabhour install: %s\n' "$1"; }
give_up() {
    printf 'slabhour install: %s\n' "$1" >&2
    exit 1
}

[ -f "$site/site.toml" ] || give_up "$site/site.toml is not there; make it: slabhour init $site ..."
[ -x "$code/.venv/bin/slabhour" ] || give_up "$code/.venv is not there; make it: sh $code/deploy/setup.sh"
case "$site$code" in *[!A-Za-z0-9/._-]*) give_up 'a unit takes no blanks or signs in the folders of site and code.' ;; esac
mkdir -p "$units" || give_up "$units cannot be written; run this as root."
for unit in slabhour.service slabhour-broker.service; do
    sed -e "s|/srv/slabhour|$site|g" -e "s|/usr/local/lib/slabhour|$code|g" "$here/$unit" >"$units/$unit.new"
    mv "$units/$unit.new" "$units/$unit"
    say "wrote $units/$unit"
done
if [ -n "${UNITS:-}" ] || [ ! -d /run/systemd/system ]; then
    say 'nothing was started: both are started by hand, as the runbook says'
    exit 0
fi

[ "$(id -u)" -eq 0 ] || give_up 'run this as root: it makes the user slabhour and starts the units.'
id slabhour >/dev/null 2>&1 || useradd --system --user-group --no-create-home --home-dir "$site" --shell /usr/sbin/nologin slabhour
mkdir -p "$site/var" "$site/backups"
# The broker's folder stays the broker's, the authority's key root's.
chown slabhour:slabhour "$site" "$site/site.toml"
chown -R slabhour:slabhour "$site/var" "$site/backups" "$site/secrets" "$site/calibrations"
chown slabhour:slabhour "$site/tls/site.key"
ln -sf "$code/.venv/bin/slabhour" /usr/local/bin/slabhour
systemctl daemon-reload
if systemctl --quiet is-enabled mosquitto.service 2>/dev/null; then systemctl disable --now mosquitto.service; fi
systemctl enable slabhour-broker.service slabhour.service
systemctl restart slabhour-broker.service slabhour.service
say 'both run; who looks after the people first: journalctl -u slabhour | grep "first admin"'
