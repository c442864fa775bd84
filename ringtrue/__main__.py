"""`python -m ringtrue` is `ringtrue`."""

from __future__ import annotations

import sys

from ringtrue.cli import main

if __name__ == "__main__":
    sys.exit(main())
