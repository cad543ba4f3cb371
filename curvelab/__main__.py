"""``python -m curvelab`` is the ``curvelab`` command."""

from __future__ import annotations

import sys

from curvelab.cli import main

if __name__ == "__main__":  # worker processes import this module without running it
    sys.exit(main())
