# Shared by the set-up scripts, which source it with the checkout as working folder.
# POSIX sh; every path may hold blanks.

# What Qt needs to draw, and what it needs for a window on an X screen.
# A word lists the names one package has in different releases, the newest first.
drawing_packages='libglib2.0-0t64|libglib2.0-0 libgl1 libxkbcommon0 libegl1 libfontconfig1 libdbus-1-3 fonts-dejavu-core'
screen_packages='libxcb-cursor0 libxcb-icccm4 libxcb-image0 libxcb-keysyms1 libxcb-randr0 libxcb-render-util0 libxcb-shape0 libxcb-xkb1 libxkbcommon-x11-0'

say() { printf '%s\n' "$@"; }

fail() {
    say "$*" >&2
    exit 1
}

# Run a command as root, or fail where that is not possible without asking in vain.
as_root() {
    if [ "$(id -u)" -eq 0 ]; then
        "$@"
    elif command -v sudo >/dev/null 2>&1 && { [ -t 0 ] || sudo -n true 2>/dev/null; }; then
        sudo "$@"
    else
        return 1
    fi
}

# names_known WORD...: of each word the name that apt knows, or the oldest where it knows none.
names_known() {
    for word in "$@"; do
        for name in $(say "$word" | tr '|' ' '); do
            apt-cache show "$name" >/dev/null 2>&1 && break
        done
        printf ' %s' "$name"
    done
}

# install_packages WORD...: install Debian packages, or name them and fail.
install_packages() {
    if ! command -v apt-get >/dev/null 2>&1 || ! as_root true; then
        say "System packages are missing and cannot be installed from here. On Debian or Ubuntu:" \
            "    apt-get install$(names_known "$@")"
        return 1
    fi
    if [ -z "${lists_are_new:-}" ]; then
        as_root apt-get update -qq </dev/null >/dev/null || say 'apt-get update failed; going on'
        lists_are_new=yes
    fi
    names=$(names_known "$@")
    say "Installing system packages:$names"
    # Unquoted: names of packages hold no blanks.
    as_root env DEBIAN_FRONTEND=noninteractive \
        apt-get install -y -qq --no-install-recommends $names </dev/null >/dev/null ||
        { say "Could not install:$names"; return 1; }
}

is_new_enough() {
    "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1
}

# Set $python to a Python of at least 3.11.
find_python() {
    for python in "${PYTHON:-python3}" python3 python3.14 python3.13 python3.12 python3.11; do
        is_new_enough "$python" && return 0
    done
    return 1
}

make_venv() {
    if is_new_enough .venv/bin/python && .venv/bin/python -c 'import pip' 2>/dev/null; then
        return 0
    fi
    find_python || { install_packages python3 && find_python; } ||
        fail 'Python 3.11 or newer is needed; PYTHON=/path/to/python3 names one.'
    if ! "$python" -c 'import ensurepip, venv' 2>/dev/null; then
        version=$("$python" -c 'import sys; print("%d.%d" % sys.version_info[:2])')
        install_packages "python$version-venv|python3-venv" ||
            fail "$python cannot make virtual environments without that package."
    fi
    say "Making a virtual environment in .venv with $("$python" -V)"
    "$python" -m venv --clear .venv || fail 'Could not make the virtual environment.'
}

# install_project EXTRAS: install this checkout with what it needs ('' or '[test]') into .venv,
# unless that was done for this very pyproject.toml in this very place.
install_project() {
    stamp=".venv/installed$1"
    if [ -e "$stamp" ] && [ "$(cat "$stamp")" = "$PWD" ] &&
        [ -z "$(find pyproject.toml -newer "$stamp")" ]; then
        return 0
    fi
    say 'Installing curvelab from this folder and what it needs (a few minutes the first time)'
    .venv/bin/python -m pip install --quiet --disable-pip-version-check -e ".$1" ||
        fail 'Could not install; the lines above say why.'
    say "$PWD" >"$stamp"
}

# qt_starts PLATFORM: whether Qt can start there.
qt_starts() {
    QT_QPA_PLATFORM=$1 .venv/bin/python -c \
        'from PySide6 import QtGui, QtSvg, QtWidgets; QtGui.QGuiApplication([])' >/dev/null 2>&1
}

# Make sure that Qt can draw, installing what it lacks where that is possible.
ensure_drawing() {
    qt_starts offscreen && return 0
    # Unquoted: a list of words.
    install_packages $drawing_packages && qt_starts offscreen
}
