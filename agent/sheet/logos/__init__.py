"""A company's logo: from the bytes of a file that anybody may have made to a harmless picture."""

from __future__ import annotations

from agent.sheet.logos.model import Logo, refused
from agent.sheet.logos.png import SIGNATURE, clean_png
from agent.sheet.logos.svg import clean_svg

__all__ = ["Logo", "read_logo"]

BYTE_ORDER_MARK = b"\xef\xbb\xbf"
BLANKS = b" \t\r\n"
TOLD = {
    b"\x1f\x8b": "it is compressed, and only plain SVG is read",
    b"\xff\xfe": "it is text in UTF-16, and only UTF-8 is read",
    b"\xfe\xff": "it is text in UTF-16, and only UTF-8 is read",
}
"""First bytes of what is nearly right: RFC 1952 §2.3.1, and the byte order marks of Unicode."""


def read_logo(content: bytes) -> Logo:
    """Return what a file shows, made anew: an SVG of plain shapes, or a PNG of nothing but pixels.

    The same bytes give the same logo, and a logo's own content gives it again. Raises LogoError
    where the file is none of the two, too large, broken, or has nothing that can be shown.
    """
    if content.startswith(SIGNATURE):
        return clean_png(content)
    if content.removeprefix(BYTE_ORDER_MARK).lstrip(BLANKS).startswith(b"<"):
        return clean_svg(content)
    raise refused(TOLD.get(content[:2], "it is neither an SVG nor a PNG"))
