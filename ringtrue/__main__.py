"""`python -m ringtrue` is `ringtrue`."""

from __future__ import annotations

import sys

if __name__ == "__main__":
    # Here, as a process started to grade reads this file too, and needs no command line.
    from ringtrue.cli import main

    sys.exit(main())
