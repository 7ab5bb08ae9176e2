# Sourced by server/demo and tests/run. Makes .venv in the project's root and installs a pinned,
# hashed set of packages and the project itself into it; does nothing where that is done already.
#
# A stamp in .venv holds the digest of what was installed. The development set holds the server's
# set, so that after tests/run the demo has nothing to install.

readonly LEAST_PYTHON='3, 11'

say() { printf '%s\n' "$*" >&2; }

fail() {
    say "$*"
    exit 2
}

# install_debian COMMAND PACKAGE...: the packages that bring a command, where it is not here.
install_debian() {
    local command=$1
    shift
    command -v "$command" >/dev/null 2>&1 && return
    { [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; } ||
        fail "$command is needed, of the packages $*; only root can install them, by apt-get."
    say "Installing $* ..."
    DEBIAN_FRONTEND=noninteractive apt-get update -qq >&2
    DEBIAN_FRONTEND=noninteractive apt-get install -qq --yes --no-install-recommends "$@" >&2 ||
        fail "$* cannot be installed; see above."
}

new_enough() { "$1" -c "import sys; sys.exit(sys.version_info < ($LEAST_PYTHON))" 2>/dev/null; }

find_python() {
    local candidate
    for candidate in ${PYTHON:+"$PYTHON"} python3 python3.13 python3.12 python3.11; do
        if new_enough "$candidate"; then
            printf '%s\n' "$candidate"
            return
        fi
    done
    fail "Python 3.11 or later is needed: install it, or name it: PYTHON=/path/to/python3 $0"
}

make_venv() {
    local python
    new_enough .venv/bin/python && .venv/bin/python -m pip --version >/dev/null 2>&1 && return
    python=$(find_python) || exit 2
    say "Making .venv with $("$python" --version) ..."
    "$python" -m venv --clear .venv ||
        fail "python3 -m venv failed. On Debian and Ubuntu: apt-get install python3-venv"
}

# Digest of everything that decides what an installation holds.
digest_of_installation() {
    {
        pwd -P
        .venv/bin/python --version
        cat pyproject.toml server/weavability/__init__.py "$@"
    } | cksum
}

# Python compiles what is imported when it is; to compile all of it costs most of a minute.
install_set() {
    local requirements=$1
    say "Installing the pinned packages of $requirements ..."
    .venv/bin/python -m pip install -qq --disable-pip-version-check \
        --no-compile --require-hashes --requirement "$requirements" >&2 &&
        .venv/bin/python -m pip install -qq --disable-pip-version-check \
            --no-index --no-deps --no-build-isolation --editable . >&2 ||
        fail "The installation failed; see above. Remove .venv to begin afresh."
}

# make_environment server|tests: .venv holds the packages of that directory's requirements.txt.
make_environment() {
    local kind=$1
    # Two runs at once install one after the other; the lock ends with the descriptor.
    if command -v flock >/dev/null 2>&1; then
        exec 9<pyproject.toml
        flock 9
    fi
    make_venv
    local stamp=.venv/installed-$kind digest
    digest=$(digest_of_installation server/requirements.txt tests/requirements.txt)
    if [ "$(cat "$stamp" 2>/dev/null)" != "$digest" ]; then
        rm -f .venv/installed-*
        install_set "$kind/requirements.txt"
        printf '%s\n' "$digest" >.venv/installed-server
        printf '%s\n' "$digest" >"$stamp"
    fi
    exec 9<&-
}
