"""The command, as ``python -m isolator``."""

from __future__ import annotations

import sys

from isolator.start import command

if __name__ == "__main__":
    sys.exit(command())
