"""The QR code of a report (ISO/IEC 18004), as SVG."""

from __future__ import annotations

import io

import segno


def qr_svg(text: str) -> str:
    """Black modules on white, with the quiet zone of four modules that a reader needs."""
    out = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        out, kind="svg", border=4, xmldecl=False, svgclass=None, lineclass=None, light="#fff", omitsize=True
    )
    return out.getvalue().decode()
