#!/usr/bin/env bash
# A simulated house, a broker and the page, from a fresh clone: bash deploy/demo.sh [--speed 60]
# The first run makes .venv in the clone (a minute or two); later runs start within seconds. Nothing outside the clone changes,
# save Debian's python3-venv where it is missing.
set -euo pipefail
clone=$(cd "$(dirname "$0")/.." && pwd)
. "$clone/deploy/venv.sh"
venv_in "$clone"
exec "$clone/.venv/bin/thermostatd" demo "$@"
