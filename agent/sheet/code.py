"""The square code of a page: record number and hash, drawn as SVG."""

from __future__ import annotations


def code_svg(text: str) -> str:
    """Return an SVG of a QR code (ISO/IEC 18004) of the text, error correction level M."""
    import segno  # noqa: PLC0415 - only a written page needs it

    code = segno.make(text, error="m", micro=False)
    drawn: str = code.svg_inline(border=0, omitsize=True, svgclass=None, lineclass=None)
    return drawn
