#!/usr/bin/env bash
# Takes thermostatd off this machine, every plug told OFF first. The house file, secrets, broker settings and data stay,
# so that a later install goes on where this one stopped; --purge removes them too.
set -euo pipefail
prefix="" purge=no
while [ $# -gt 0 ]; do
  case $1 in
    --purge) purge=yes ;;
    --prefix) prefix=${2:?--prefix needs a folder}; shift ;;
    *) echo "Usage: deploy/uninstall.sh [--purge] [--prefix DIR]" >&2; exit 2 ;;
  esac
  shift
done
real() { [ -z "$prefix" ]; }
if real && [ "$(id -u)" -ne 0 ]; then echo "uninstall.sh: run it as root" >&2; exit 1; fi
systemd=no
if real && [ -d /run/systemd/system ]; then systemd=yes; fi

# Stopping tells every plug OFF, by the daemon and once more by the unit.
if [ $systemd = yes ]; then
  systemctl disable -q --now thermostatd-again.timer thermostatd.service 2>/dev/null || true
  systemctl stop thermostatd-off.service 2>/dev/null || true
fi
rm -f "$prefix"/etc/systemd/system/thermostatd.service "$prefix"/etc/systemd/system/thermostatd-off.service \
  "$prefix"/etc/systemd/system/thermostatd-again.timer
if [ $systemd = yes ]; then systemctl daemon-reload; systemctl reset-failed 'thermostatd*' 2>/dev/null || true; fi
rm -rf "$prefix/opt/thermostatd"
if real && [ -L /usr/local/bin/thermostatd ]; then rm -f /usr/local/bin/thermostatd; fi
if real && [ -L /usr/local/share/man/man1/thermostatd.1 ]; then rm -f /usr/local/share/man/man1/thermostatd.1; fi

if [ $purge = yes ]; then
  rm -rf "$prefix/etc/thermostatd" "$prefix/var/lib/thermostatd"
  rm -f "$prefix"/etc/mosquitto/conf.d/thermostatd.conf "$prefix"/etc/mosquitto/thermostatd.acl \
    "$prefix"/etc/mosquitto/thermostatd.passwords
  if real && id thermostatd >/dev/null 2>&1; then userdel thermostatd; fi
  if [ $systemd = yes ]; then systemctl try-restart mosquitto 2>/dev/null || true; fi
  echo "removed, with house file, secrets, broker settings and data"
else
  echo "removed; kept: $prefix/etc/thermostatd, $prefix/var/lib/thermostatd and the broker's settings (--purge removes them)"
fi
echo "Look at each heater: its plug should show OFF."
