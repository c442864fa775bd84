"""Memory given back: what a large sweep took to be read and graded is not kept for the rest of the day."""

from __future__ import annotations

import ctypes


def give_back() -> None:
    """Hand free memory back to the system, where the C library can; takes milliseconds, blocks no thread.

    glibc keeps what its threads have freed for their next need (malloc_trim(3)).
    """
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
    if trim is not None:
        trim(0)
