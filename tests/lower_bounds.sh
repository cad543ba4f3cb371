#!/bin/sh
# Run the tests with the oldest releases that pyproject.toml admits, in a virtual
# environment of its own. Needs the system packages that tests/run.sh installs.
set -u
cd "$(dirname "$0")/.." || exit 1
. resources/setup/common.sh

find_python || fail 'Python 3.11 or newer is needed; PYTHON=/path/to/python3 names one.'
venv=.venv/lower-bounds
"$python" -m venv --clear "$venv" || exit 1
"$venv/bin/python" tests/helpers/lower_bounds.py >"$venv/constraints.txt" || exit 1
say 'The oldest releases admitted:' && cat "$venv/constraints.txt"
"$venv/bin/python" -m pip install --quiet --disable-pip-version-check \
    -c "$venv/constraints.txt" -e '.[test]' || exit 1
# Style and types are checked against the newest releases only.
OPENBLAS_NUM_THREADS=1 QT_QPA_PLATFORM=offscreen exec "$venv/bin/python" -m pytest \
    --ignore=tests/architecture/test_style.py "$@"
