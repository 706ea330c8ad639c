# Sets up this checkout: Debian packages, the environment .venv, the program in it. Sourced by demo/run and tests/run.
# Doing it again costs next to nothing: each step looks first whether there is anything to do.

say() { printf 'reedwire set-up: %s\n' "$*" >&2; }
die() { say "$*"; exit 2; }

# The first Python on this machine that is new enough; PYTHON=... chooses another one.
find_python() {
    local candidate
    for candidate in ${PYTHON:-python3 python3.14 python3.13 python3.12 python3.11}; do
        if "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            command -v "$candidate"
            return
        fi
    done
    die "Python 3.11 or newer is needed; found: $(python3 --version 2>&1 || echo none). Install it, or name it: PYTHON=/path/to/python3 $0"
}

# Debian packages: root installs those that are missing, anybody else is told the one line.
need_packages() {
    local name missing=()
    command -v dpkg-query >/dev/null || { say "no Debian packages here; please install the equivalents of: $*"; return 0; }
    for name in "$@"; do
        dpkg-query -W -f='${Status}' "$name" 2>/dev/null | grep -q 'ok installed' || missing+=("$name")
    done
    [ ${#missing[@]} -eq 0 ] && return 0
    if [ "$(id -u)" -ne 0 ]; then
        say "these Debian packages are missing: ${missing[*]}. To install them, type:"
        say "    sudo apt-get install ${missing[*]}"
        say "going on without them"
        return 0
    fi
    say "installing Debian packages: ${missing[*]}"
    export DEBIAN_FRONTEND=noninteractive
    apt-get update -qq >&2 || say "apt-get update failed; trying with the package lists that are here"
    apt-get install -y -qq --no-install-recommends "${missing[@]}" >&2 || say "apt-get could not install them; going on without"
}

# .venv with pip in it. Debian keeps the pip for new environments in a package of its own; where that is missing, the
# pip of the machine puts one in.
make_environment() {
    local python="$1"
    if [ -x .venv/bin/python ] && .venv/bin/python -m pip --version >/dev/null 2>&1; then
        return 0
    fi
    say "making the environment .venv with $("$python" --version 2>&1)"
    rm -rf .venv
    if "$python" -c 'import ensurepip' 2>/dev/null && "$python" -m venv .venv; then
        return 0
    fi
    rm -rf .venv
    if "$python" -m venv --without-pip .venv && "$python" -m pip --python .venv/bin/python install -q pip >&2; then
        return 0
    fi
    rm -rf .venv
    if [ "$(id -u)" -eq 0 ]; then
        need_packages python3-venv
        "$python" -m venv .venv && return 0
    fi
    die "no environment could be made. Type: sudo apt-get install python3-venv   and start again"
}

# The program with the versions in tests/constraints.txt, again only when what it depends on has changed.
install_program() {
    local what="$1" stamp=".venv/set-up-$1" wanted
    wanted="$(cat pyproject.toml tests/constraints.txt | sha256sum | cut -d' ' -f1) $PWD"
    if [ -f "$stamp" ] && [ "$(cat "$stamp")" = "$wanted" ]; then
        return 0
    fi
    say "installing reedwire and what it needs into .venv (a few minutes the first time)"
    local target=".[resing]"
    [ "$what" = test ] && target=".[test]"
    if ! .venv/bin/python -m pip install -q --disable-pip-version-check -c tests/constraints.txt -e "$target" >&2; then
        [ "${REQUIRE_ALL:-0}" = 1 ] && die "the pinned versions could not be installed"
        say "the tried and tested versions do not fit this machine; taking the newest that do"
        .venv/bin/python -m pip install -q --disable-pip-version-check -e "$target" >&2 ||
            die "pip could not install what is needed: see above"
    fi
    printf '%s' "$wanted" >"$stamp"
}

# set_up demo|test PACKAGE...: everything, from the top folder of the checkout.
set_up() {
    local what="$1"
    shift
    local python
    python="$(find_python)" || exit 2
    need_packages "$@"
    make_environment "$python"
    install_program "$what"
}
