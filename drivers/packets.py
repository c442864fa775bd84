"""Packets on a line of bytes, by the marks of RFC 1055: what USB keeps apart stays apart.

    C0   01 FF   DB DC   42   C0
    END  data    C0      data END        a byte C0 within is written DB DC, and DB is written DB DD

An END at the beginning as well ends what came before, so that it spoils one packet and not two. Pure.
"""

from __future__ import annotations

import re

END, ESCAPE = b"\xc0", b"\xdb"
_WRITTEN = {END[0]: b"\xdb\xdc", ESCAPE[0]: b"\xdb\xdd"}
_READ = {written: bytes([byte]) for byte, written in _WRITTEN.items()}
_MARKS = re.compile(rb"[\xc0\xdb]")
_ESCAPES = re.compile(rb"\xdb.?", re.DOTALL)


def set_apart(data: bytes) -> bytes:
    """The packet of this data, as it goes over a line."""
    return END + _MARKS.sub(lambda mark: _WRITTEN[mark[0][0]], data) + END


def bare(written: bytes) -> bytes | None:
    """The data that was written so between two ENDs; None where no data is written so."""
    try:
        return _ESCAPES.sub(lambda pair: _READ[pair[0]], written)
    except KeyError:
        return None
