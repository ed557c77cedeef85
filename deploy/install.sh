#!/usr/bin/env bash
# Installs thermostatd on Debian 12, or brings an installed one up to date. May run as often as you like.
# Rules: house.toml, secrets, the ACL and the data are made once and never overwritten; the new program is built beside
# the old one and takes its place only if it accepts the house file; no password is ever an argument of a command.
set -euo pipefail
umask 022

usage() {
  cat <<'TEXT'
Usage: deploy/install.sh [options]       (as root, from a clone)
  --lan            the broker also listens on the home network, for plugs and sensors there
  --loopback       the broker listens on this machine alone (the first install does this)
  --no-broker      leave mosquitto alone: you have a broker of your own
  --no-start       install, and start nothing
  --wheels DIR     take the Python packages from DIR, without the network
  --prefix DIR     write everything under DIR and touch no user, package or service (for trials)
TEXT
}

source_dir=$(cd "$(dirname "$0")/.." && pwd)
prefix="" listen="" broker=yes start=yes wheels=""
while [ $# -gt 0 ]; do
  case $1 in
    --lan) listen=lan ;;
    --loopback) listen=loopback ;;
    --no-broker) broker=no ;;
    --no-start) start=no ;;
    --wheels) wheels=$(cd "${2:?--wheels needs a folder}" && pwd); shift ;;
    --prefix) prefix=${2:?--prefix needs a folder}; shift ;;
    -h|--help) usage; exit 0 ;;
    *) echo "install.sh: unknown option $1" >&2; usage >&2; exit 2 ;;
  esac
  shift
done

opt=$prefix/opt/thermostatd
etc=$prefix/etc/thermostatd
units=$prefix/etc/systemd/system
mosquitto=$prefix/etc/mosquitto
state=$prefix/var/lib/thermostatd

say() { printf '%s\n' "$*"; }
die() { printf 'install.sh: %s\n' "$*" >&2; exit 1; }
real() { [ -z "$prefix" ]; }
systemd_runs() { real && [ -d /run/systemd/system ]; }
owned_by() { if real; then chown "$1" "${@:2}"; fi; }
as_daemon() { if real; then runuser -u thermostatd -- "$@"; else "$@"; fi; }

debian_packages() {
  local wanted="python3 python3-venv" missing="" package
  [ "$broker" = no ] || wanted="$wanted mosquitto mosquitto-clients"
  for package in $wanted; do
    dpkg-query -W -f '${Status}' "$package" 2>/dev/null | grep -q 'ok installed' || missing="$missing $package"
  done
  [ -n "$missing" ] || return 0
  say "installing$missing"
  apt-get update -q
  # shellcheck disable=SC2086
  DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $missing
}

# Root's own Python (a pyenv in /root, say) cannot be read by the daemon's user: only the system's counts.
python() {
  local candidate
  for candidate in /usr/bin/python3 /usr/bin/python3.1[1-9]; do
    if [ -x "$candidate" ] && "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))'; then
      echo "$candidate"; return
    fi
  done
  die "no Python 3.11 or newer in /usr/bin: install.sh needs Debian 12 or newer"
}

user_and_folders() {
  if real && ! id thermostatd >/dev/null 2>&1; then
    useradd --system --home-dir /var/lib/thermostatd --no-create-home --shell /usr/sbin/nologin thermostatd
  fi
  install -d -m 0755 "$opt" "$opt/versions" "$units"
  install -d -m 0750 "$etc" "$etc/secrets"
  install -d -m 0700 "$state"
  owned_by root:thermostatd "$etc" "$etc/secrets"
  owned_by thermostatd:thermostatd "$state"
}

# A secret is made once, straight into its file.
secret() {
  [ ! -s "$etc/secrets/$1" ] || return 0
  (umask 077; LC_ALL=C tr -dc 'a-hjkmnp-z2-9' </dev/urandom | head -c "$2" >"$etc/secrets/$1" || true
   echo >>"$etc/secrets/$1")
  chmod 0640 "$etc/secrets/$1"
  owned_by root:thermostatd "$etc/secrets/$1"
}

# Puts a line under a table of the new house file, unless that table already has the key.
under() {
  local file=$1 table=$2 key=$3 line=$4
  awk -v head="[$table]" -v key="$key" '
    { at = substr($0, 1, length(head)) == head ? 1 : ($0 ~ /^\[/ ? 0 : at) }
    at && $0 ~ "^" key "[ =]" { found = 1 } END { exit !found }' "$file" && return
  if grep -q "^\[$table\]" "$file"; then sed -i "/^\[$table\]/a $line" "$file"
  else printf '\n[%s]\n%s\n' "$table" "$line" >>"$file"; fi
}

house_file() {
  [ ! -e "$etc/house.toml" ] || return 0
  local new="$etc/house.toml.new"
  cp "$source_dir/config/one-room.toml" "$new"
  under "$new" broker password_file "password_file = \"$etc/secrets/broker-password\""
  under "$new" broker user 'user = "thermostatd"'
  under "$new" pages owner_passphrase_file "owner_passphrase_file = \"$etc/secrets/owner-passphrase\""
  chmod 0640 "$new"
  owned_by root:thermostatd "$new"
  mv "$new" "$etc/house.toml"
  say "made $etc/house.toml: an example of one room, yours to change"
}

build_program() {
  local version
  version=$(sed -n 's/^version = "\(.*\)"/\1/p' "$source_dir/pyproject.toml" | head -n 1)
  built=$opt/versions/$version-$(date -u +%Y%m%dT%H%M%SZ)
  say "building ${built#"$prefix"}"
  "$(python)" -m venv "$built"
  local what="$source_dir" from=()
  if [ -n "$wheels" ]; then
    from=(--no-index --find-links "$wheels")
    # A ready wheel of the program itself, where there is one: no build tools are needed then.
    if compgen -G "$wheels/thermostatd-*.whl" >/dev/null; then what=$(compgen -G "$wheels/thermostatd-*.whl" | sort -V | tail -n 1); fi
  fi
  if ! "$built/bin/pip" install -q "${from[@]}" "$what"; then
    rm -rf "$built"
    die "the Python packages could not be installed; what was there before is untouched"
  fi
}

# The old program stays until the new one has read the house file without a fault.
take_over() {
  if ! as_daemon "$built/bin/thermostatd" check "$etc/house.toml"; then
    rm -rf "$built"
    die "the new program does not accept $etc/house.toml (see above): mend it and run this again. Nothing was changed."
  fi
  copy_data
  local before
  before=$(readlink "$opt/current" || true)
  ln -sfn "versions/$(basename "$built")" "$opt/current.new"
  mv -T "$opt/current.new" "$opt/current"
  local old
  for old in "$opt"/versions/*; do
    case versions/$(basename "$old") in "$(readlink "$opt/current")"|"$before") ;; *) rm -rf "$old" ;; esac
  done
  rm -rf "$opt/guides"
  cp -r "$source_dir/web/help" "$opt/guides"
  if real; then
    ln -sfn "$opt/current/bin/thermostatd" /usr/local/bin/thermostatd
    install -d /usr/local/share/man/man1
    ln -sfn "$opt/current/share/man/man1/thermostatd.1" /usr/local/share/man/man1/thermostatd.1
  fi
}

# A new program may bring the database forward, which an old one refuses: keep a copy of what was. The daemon is the
# only one that may have it open, so it goes down first, every plug told OFF.
copy_data() {
  local file
  if systemd_runs; then systemctl stop -q thermostatd-again.timer thermostatd 2>/dev/null || true; fi
  install -d -m 0700 "$state/before-update"
  owned_by thermostatd:thermostatd "$state/before-update"
  for file in "$state"/*.db "$state"/*.sqlite "$state"/*.sqlite3; do
    [ -f "$file" ] || continue
    as_daemon "$built/bin/python" -c 'import sqlite3, sys
with sqlite3.connect(sys.argv[1]) as now, sqlite3.connect(sys.argv[2]) as copy: now.backup(copy)' \
      "$file" "$state/before-update/$(basename "$file")"
  done
}

install_units() {
  install -m 0644 "$source_dir"/deploy/thermostatd.service "$source_dir"/deploy/thermostatd-off.service \
    "$source_dir"/deploy/thermostatd-again.timer "$units/"
  if systemd_runs; then systemctl daemon-reload; fi
}

# Another drop-in that already says who may connect is the owner's: two would contradict each other.
broker_settings() {
  [ "$broker" = yes ] || return 0
  install -d -m 0755 "$mosquitto/conf.d"
  local theirs
  theirs=$(grep -lE '^[[:space:]]*(listener|port|allow_anonymous|password_file|acl_file)[[:space:]]' \
    "$mosquitto/mosquitto.conf" "$mosquitto"/conf.d/*.conf 2>/dev/null | grep -v '/conf.d/thermostatd.conf$' || true)
  if [ -n "$theirs" ]; then
    say "your broker has settings of its own ($theirs): left alone."
    say "  give it a user thermostatd with the password in $etc/secrets/broker-password; see $source_dir/deploy/mosquitto"
    return 0
  fi
  broker_drop_in
  broker_names
}

broker_drop_in() {
  local file=$mosquitto/conf.d/thermostatd.conf
  if [ -z "$listen" ] && grep -qx 'listener 1883' "$file" 2>/dev/null; then listen=lan; fi
  cp "$source_dir/deploy/mosquitto/thermostatd.conf" "$file.new"
  if [ "$listen" = lan ]; then sed -i 's/^listener 1883 127\.0\.0\.1$/listener 1883/' "$file.new"; fi
  if cmp -s "$file.new" "$file"; then rm "$file.new"; else chmod 0644 "$file.new"; mv "$file.new" "$file"; broker_changed=yes; fi
}

broker_names() {
  local passwords=$mosquitto/thermostatd.passwords line
  if ! grep -q '^thermostatd:' "$passwords" 2>/dev/null; then
    line=$(umask 077; mktemp)
    { printf 'thermostatd:'; head -n 1 "$etc/secrets/broker-password"; } >"$line"
    mosquitto_passwd -U "$line"
    (umask 077; cat "$line" >>"$passwords")
    rm -f "$line"
    broker_changed=yes
  fi
  [ -e "$mosquitto/thermostatd.acl" ] || { cp "$source_dir/deploy/mosquitto/acl.example" "$mosquitto/thermostatd.acl"; broker_changed=yes; }
  chmod 0640 "$passwords" "$mosquitto/thermostatd.acl"
  owned_by root:mosquitto "$passwords" "$mosquitto/thermostatd.acl"
}

begin() {
  systemd_runs || return 0
  [ "$start" = yes ] || return 0
  if [ "$broker_changed" = yes ]; then systemctl enable -q mosquitto; systemctl restart mosquitto; fi
  systemctl enable -q thermostatd
  systemctl restart thermostatd
}

broker_changed=no
if real && [ "$(id -u)" -ne 0 ]; then die "run it as root (it makes a user, folders and services)"; fi
[ -f "$source_dir/config/one-room.toml" ] || die "run it from a whole clone: $source_dir/config/one-room.toml is missing"
if real; then debian_packages; fi
user_and_folders
secret broker-password 32
secret owner-passphrase 12
house_file
build_program
take_over
install_units
broker_settings
begin
say "installed. House file: $etc/house.toml   Guides: $opt/guides/first-evening.md"
say "A change of it holds within two seconds; what is wrong with it: thermostatd check $etc/house.toml"
