# Shared by deploy/run, deploy/test and deploy/lock, which source it: a Python, the virtual environment, system packages.
# Everything made here lies in .venv and .stickbook, both ignored by git and safe to delete.
# shellcheck shell=bash

set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
root=$PWD
scratch=$root/.stickbook
venv=$root/.venv
mkdir -p "$scratch"

say() { printf '%s\n' "$*"; }
die() {
    printf '%s\n' "$*" >&2
    exit 1
}

# ---------------------------------------------------------------- one tree, several runs at once

# Runs of one tree share the environment and hold this lock shared; whoever makes it anew holds it alone.
share_tree() {
    exec 9>"$scratch/lock"
    command -v flock >/dev/null || return 0 # always there on Debian and Ubuntu
    flock --shared 9
}
own_tree() {
    command -v flock >/dev/null || return 0
    flock --nonblock 9 && return 0
    say "Waiting for another run of this tree to end."
    flock 9
}

# ---------------------------------------------------------------- system packages

# ask_apt PACKAGE...: installs them, or says why it cannot and returns 1.
ask_apt() {
    local as_root=() log=$scratch/apt.log
    if ! command -v apt-get >/dev/null; then
        say "  cannot install $*: there is no apt here"
        return 1
    fi
    if ((EUID != 0)); then
        if ! command -v sudo >/dev/null || { ! sudo -n true 2>/dev/null && [[ ! -t 0 ]]; }; then
            say "  cannot install $*: neither root nor a sudo that answers"
            return 1
        fi
        as_root=(sudo)
    fi
    as_root+=(env DEBIAN_FRONTEND=noninteractive apt-get --option DPkg::Lock::Timeout=300)
    local install=(install --yes --no-install-recommends "$@")
    say "  apt installs $*"
    # The package lists of a fresh machine are empty and those of an old one stale: fetch them when the first try fails.
    if ! { "${as_root[@]}" "${install[@]}" ||
        { "${as_root[@]}" update && "${as_root[@]}" "${install[@]}"; }; } >"$log" 2>&1 </dev/null; then
        say "  apt could not install $* (all it said: $log):"
        tail -n 3 "$log" | sed 's/^/    /'
        return 1
    fi
}

# ---------------------------------------------------------------- what is needed from the system

lacking=()
need() { # need LOOK WHAT_COMES_OF_LACKING_IT PACKAGE...
    local look=$1 comes=$2
    shift 2
    "$look" && return 0
    say "$* is not here."
    ask_apt "$@" && "$look" && return 0
    lacking+=("$*: $comes")
}

# What papers are set with: Pango, which brings HarfBuzz and FreeType, and the face that drawings are measured in.
pango_is_there() { ldconfig -p 2>/dev/null | grep -q libpangoft2-1.0 && ldconfig -p | grep -q libharfbuzz-subset; }
liberation_is_there() { [[ -n $(find /usr/share/fonts /usr/local/share/fonts -iname 'LiberationSans-Regular*' 2>/dev/null) ]]; }

needs_for_papers() {
    need pango_is_there "no paper can be printed" libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0
    need liberation_is_there "papers and drawings are set in another face than they are made for" fonts-liberation
}

# ---------------------------------------------------------------- a PostgreSQL of our own

# private_postgres: starts a cluster of this run alone, on a socket in a folder of its own, and sets $postgres_url.
# Call stop_postgres at the end. Whatever cluster the machine has is left alone.
postgres_bin() { find /usr/lib/postgresql -maxdepth 2 -name bin 2>/dev/null | sort -V | tail -n 1; }
postgres_is_there() { [[ -n $(postgres_bin) ]]; }
as_postgres() { if ((EUID == 0)); then runuser -u postgres -- "$@"; else "$@"; fi; }
private_postgres() {
    local bin
    bin=$(postgres_bin)
    postgres_home=$(mktemp -d /tmp/stickbook-postgres.XXXXXX)
    ((EUID != 0)) || chown postgres "$postgres_home"
    as_postgres "$bin/initdb" --auth=trust --username=postgres --encoding=UTF8 --no-locale --no-sync --pgdata="$postgres_home/data" >/dev/null
    as_postgres "$bin/pg_ctl" --pgdata="$postgres_home/data" --wait --silent --log="$postgres_home/log" \
        --options="-k $postgres_home -c listen_addresses='' -c fsync=off -c max_connections=60" start
    # shellcheck disable=SC2034 # read by whoever called
    postgres_url="postgres://postgres@${postgres_home//\//%2F}/postgres"
}
stop_postgres() {
    [[ -n ${postgres_home:-} ]] || return 0
    as_postgres "$(postgres_bin)/pg_ctl" --pgdata="$postgres_home/data" --mode=immediate --silent stop || true
    rm -rf "$postgres_home"
}

# ---------------------------------------------------------------- Python

can() { "$1" -c "$2" >/dev/null 2>&1 </dev/null; }
new_enough='import sys; sys.exit(sys.version_info < (3, 11))'
with_venv="import ensurepip, venv; $new_enough"

# pick_python TEST: sets $python to the first interpreter that passes it.
pick_python() {
    local name
    for name in ${STICKBOOK_PYTHON:-python3.13 python3.12 python3.11 python3}; do
        if can "$name" "$1"; then
            python=$name
            return 0
        fi
    done
    return 1
}

# find_python: any that runs the engine.
find_python() {
    pick_python "$new_enough" && return 0
    say "Python 3.11 or newer is not here."
    ask_apt python3 && pick_python "$new_enough" && return 0
    die "Install Python 3.11 or newer, or name one in STICKBOOK_PYTHON."
}

# find_python_with_venv: one that makes virtual environments, which Debian keeps in a package of its own.
find_python_with_venv() {
    pick_python "$with_venv" && return 0
    find_python
    local package
    package=$("$python" -c 'import sys; print("python%d.%d-venv" % sys.version_info[:2])')
    say "$python cannot make virtual environments."
    ask_apt "$package" && pick_python "$with_venv" && return 0
    die "Install $package (or another Python 3.11 or newer with venv and ensurepip) and start again."
}

# use_environment LOCK: makes $venv hold just what the lock lists, unless it does already, and sets $python to its own.
# The stamp is written last, so an installation cut short is made again; it names the path, since a moved venv is broken.
use_environment() {
    local lock=$1 stamp wanted
    stamp=$venv/stickbook-stamp
    find_python_with_venv
    wanted="$(sha256sum "$lock") $("$python" -c 'import sys; print(sys.version)') $venv"
    if [[ $(cat "$stamp" 2>/dev/null) != "$wanted" ]]; then
        own_tree
        if [[ $(cat "$stamp" 2>/dev/null) != "$wanted" ]]; then # another run may have made it while this one waited
            say "Making ${venv#"$root"/} from $lock with $("$python" --version); seconds the next time."
            rm -rf "$venv"
            "$python" -m venv "$venv"
            "$venv/bin/python" -m pip install --quiet --no-input --disable-pip-version-check \
                --require-hashes --requirement "$lock" </dev/null ||
                die "pip could not install $lock; nothing was left half done, start again when it can."
            printf '%s\n' "$wanted" >"$stamp"
        fi
        share_tree
    fi
    python=$venv/bin/python
}

# ---------------------------------------------------------------- packages of npm

# use_node_modules FOLDER: makes FOLDER/node_modules hold just what its lock lists, unless it does already. The stamp is
# written last, so an installation cut short is made again.
use_node_modules() {
    local folder=$1 stamp wanted outcome=0
    stamp=$folder/node_modules/stickbook-stamp
    wanted=$(sha256sum "$folder/package-lock.json")
    if [[ $(cat "$stamp" 2>/dev/null) != "$wanted" ]]; then
        own_tree
        if [[ $(cat "$stamp" 2>/dev/null) != "$wanted" ]]; then # another run may have made it while this one waited
            say "Making $folder/node_modules from its lock; seconds the next time."
            if (cd "$folder" && npm ci --ignore-scripts --no-audit --no-fund) >"$scratch/npm.log" 2>&1 </dev/null; then
                printf '%s\n' "$wanted" >"$stamp"
            else
                say "  npm could not install $folder/package-lock.json (all it said: $scratch/npm.log):"
                tail -n 3 "$scratch/npm.log" | sed 's/^/    /'
                outcome=1
            fi
        fi
        share_tree
    fi
    return "$outcome"
}

# ---------------------------------------------------------------- the lock

# What of pyproject.toml a lock was made from; deploy/test compares it with what the lock's head says.
locked_from() {
    "$python" -c '
import hashlib, json, pathlib, tomllib
project = tomllib.loads(pathlib.Path("pyproject.toml").read_text("utf-8"))
asked = [project["project"]["requires-python"], project["project"]["dependencies"], project["dependency-groups"]]
print(hashlib.sha256(json.dumps(asked, sort_keys=True).encode()).hexdigest())
'
}
