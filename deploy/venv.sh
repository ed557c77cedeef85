# Sourced by demo.sh and .ci/check: `venv_in CLONE [EXTRA]` makes CLONE/.venv with the clone installed in it, and with
# the extra "[test]" what its tests need. Quick when nothing changed since the last time.

python_of_the_machine() {
  local candidate
  for candidate in python3 /usr/bin/python3 python3.13 python3.12 python3.11; do
    if command -v "$candidate" >/dev/null && "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
      command -v "$candidate"; return
    fi
  done
  echo "needs Python 3.11 or newer, which Debian 12 has: apt-get install python3 python3-venv" >&2
  return 1
}

# Debian keeps the part that makes a venv's pip in a package of its own.
debian_needs() {
  local package missing=""
  for package in "$@"; do
    dpkg-query -W -f '${Status}' "$package" 2>/dev/null | grep -q 'ok installed' || missing="$missing $package"
  done
  [ -n "$missing" ] || return 0
  if [ "$(id -u)" -ne 0 ]; then echo "please run, as root: apt-get install$missing" >&2; return 1; fi
  echo "installing$missing"
  apt-get update -q
  # shellcheck disable=SC2086
  DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $missing
}

venv_in() {
  local clone=$1 extra=${2:-} venv=$1/.venv python now locked=()
  python=$(python_of_the_machine) || { debian_needs python3; python=$(python_of_the_machine); }
  "$python" -c 'import ensurepip' 2>/dev/null || debian_needs python3-venv
  "$venv/bin/python" -c 'import pip' 2>/dev/null || { rm -rf "$venv"; "$python" -m venv "$venv"; }
  # The install is editable, so it follows the code by itself; only other needs make it stale.
  now=$(cat "$clone/pyproject.toml" "$clone/.ci/constraints.txt" | sha256sum)
  case $(cat "$venv/installed" 2>/dev/null) in "$now$extra"|"$now[test]") return 0 ;; esac
  # Checks run with the versions that are known to work; a Python that they are not made for takes the newest.
  if [ -n "$extra" ] && "$venv/bin/python" -c 'import sys; sys.exit(sys.version_info[:2] != (3, 11))'; then
    locked=(--constraint "$clone/.ci/constraints.txt")
  fi
  "$venv/bin/pip" install -q "${locked[@]}" --editable "$clone$extra" || return 1  # an install that broke off is begun again
  printf '%s\n' "$now$extra" >"$venv/installed"
}
