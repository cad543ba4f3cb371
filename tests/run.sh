#!/bin/sh
# Install what the tests need into .venv and run them; arguments go to pytest.
set -u
cd "$(dirname "$0")/.." || exit 1
. resources/setup/common.sh

make_venv
install_project '[test]'
ensure_drawing || fail 'The tests draw sheets and open windows, which Qt cannot do here.'
command -v pdftotext >/dev/null 2>&1 || install_packages poppler-utils ||
    fail 'The tests read sheets back with pdftotext.'
command -v ngspice >/dev/null 2>&1 || install_packages ngspice ||
    say 'The tests against a circuit simulator are left out.'
command -v Xvfb >/dev/null 2>&1 || install_packages xvfb xauth $screen_packages ||
    say 'The tests of the window on a screen are left out.'

OPENBLAS_NUM_THREADS=1 QT_QPA_PLATFORM=offscreen exec .venv/bin/python -m pytest "$@"
