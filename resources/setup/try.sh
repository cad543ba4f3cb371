#!/bin/sh
# Set everything up in .venv, do the main job on the sample sweeps, and open the window.
set -u
cd "$(dirname "$0")/../.." || exit 1
. resources/setup/common.sh

make_venv
install_project ''

set -- characterize sample_sweeps --csv out/lot.csv
if ensure_drawing; then
    set -- "$@" --sheets out/sheets
else
    say 'Qt cannot draw here without these, so no sheets are made; all else is.'
fi
mkdir -p out || exit 1
.venv/bin/python -m curvelab "$@"
status=$?
case $status in
    0 | 3) say '' 'A table of the lot is in out/lot.csv.' ;;
esac
[ "$status" -eq 0 ] && [ -d out/sheets ] && say 'A sheet for each tube is in out/sheets.'

if [ -n "${DISPLAY:-}${WAYLAND_DISPLAY:-}" ]; then
    why=$(.venv/bin/python -c 'from curvelab.cli.screen import why_no_window; print(why_no_window())')
    case $why in
        # Unquoted: a list of words.
        *apt-get*) install_packages $screen_packages ;;
    esac
    .venv/bin/python -m curvelab window sample_sweeps
else
    say 'There is no screen here, so the window is not opened; where there is one:'
    say '    .venv/bin/curvelab window sample_sweeps'
fi
exit "$status"
