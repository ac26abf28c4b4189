"""A PNG taken down to its pixels: no text, no profile, no place, no further pictures.

Sections are those of the W3C's Portable Network Graphics Specification (Second Edition).
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from io import BytesIO
from math import ceil, floor
from typing import TYPE_CHECKING

from agent.sheet.logos.model import HEIGHT_PX, WIDTH_PX, Logo, box_factor, ratio_of, refused

if TYPE_CHECKING:
    from PIL.Image import Image

SIGNATURE = b"\x89PNG\r\n\x1a\n"
"""§5.2."""

KEPT = (b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND")
"""The chunks that say what the pixels are (§11.2), and which of them are clear (§11.3.2.1)."""

OF_PALETTE = 3
"""Colour type of a picture whose pixels are places in a palette (§11.2.2)."""

MOST_BYTES = 256_000
MOST_PIXELS = 4_000_000
"""16 MB once decoded; a logo of 2000 by 2000 is larger than any print needs."""

MOST_RESULT = 40_000
SMALLER = 0.8
"""What a picture that is still too large shrinks by, until it is not."""

_BROKEN = (OSError, SyntaxError, ValueError, EOFError, IndexError, KeyError, struct.error)
"""What Pillow raises for a picture that breaks its format."""


def clean_png(content: bytes) -> Logo:
    """Return a PNG with the same picture, at most 480 by 160, and nothing beside it.

    Colour profile and gamma are gone with the rest, so that colours are taken as sRGB. Raises
    LogoError.
    """
    if len(content) > MOST_BYTES:
        raise refused(f"the PNG has more than {MOST_BYTES // 1000} kB")
    image = _shrunk(_pixels(_bare(content)))
    encoded = _encoded(image)
    while len(encoded) > MOST_RESULT:
        image = _scaled(image, SMALLER)
        encoded = _encoded(image)
    if not image.getchannel("A").getbbox():
        raise refused("every pixel of the PNG is clear")
    return Logo(kind="png", content=encoded, width_ratio=ratio_of(*image.size))


def _bare(content: bytes) -> bytes:
    """Return the file with the chunks that make the picture alone."""
    chunks = list(_chunks(content))
    kinds = [kind for kind, _ in chunks]
    if kinds[0] != b"IHDR" or kinds.count(b"IHDR") != 1 or len(chunks[0][1]) != 25:
        raise refused("the PNG does not begin with one header")
    width, height, _, colour = struct.unpack_from(">II2B", chunks[0][1], 8)
    if width * height > MOST_PIXELS:
        raise refused(f"the PNG has more than {MOST_PIXELS // 1_000_000} million pixels")
    if colour == OF_PALETTE and b"PLTE" not in kinds:
        raise refused("the PNG lacks its palette")
    ratio_of(width, height)
    return SIGNATURE + b"".join(whole for kind, whole in chunks if kind in KEPT)


def _chunks(content: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Yield kind and whole of every chunk up to the last (§5.3, §5.5); what follows is not read."""
    at, kind = len(SIGNATURE), b""
    while kind != b"IEND":
        head = content[at : at + 8]
        if len(head) < 8:
            raise refused("the PNG ends too early")
        length, kind = struct.unpack(">I4s", head)
        whole = content[at : at + length + 12]
        if len(whole) < length + 12:
            raise refused("the PNG ends too early")
        if zlib.crc32(whole[4:-4]) != int.from_bytes(whole[-4:]):
            raise refused("the PNG is damaged")
        # §5.4: without one that is marked as needed the picture must not be shown.
        if kind not in KEPT and not kind[0] & 0x20:
            raise refused("the PNG needs a part that is unknown here")
        yield kind, whole
        at += length + 12


def _pixels(bare: bytes) -> Image:
    """Return the picture as red, green, blue and cover (alpha) of 8 bits each."""
    from PIL import Image  # noqa: PLC0415 - only a page with such a logo needs it

    try:
        with Image.open(BytesIO(bare), formats=("PNG",)) as opened:
            opened.load()
            image = _eight_bits(opened).convert("RGBA")
    except _BROKEN as error:
        raise refused("the PNG is damaged") from error
    return _without_hidden(image)


def _without_hidden(image: Image) -> Image:
    """Return the picture without the colours of pixels that nobody can see."""
    from PIL import Image as Pictures  # noqa: PLC0415 - as above

    seen = image.getchannel("A").point([0] + [255] * 255)
    return Pictures.composite(image, Pictures.new("RGBA", image.size), seen)


def _eight_bits(image: Image) -> Image:
    """Return grey of 16 bits by its upper byte, as Pillow itself does for colours."""
    if not image.mode.startswith("I"):
        return image
    return image.convert("I").point(lambda grey: grey * (1 / 256)).convert("L")


def _shrunk(image: Image) -> Image:
    factor = box_factor(*image.size)
    return image if factor >= 1 else _scaled(image, factor)


def _scaled(image: Image, factor: float) -> Image:
    """Return a smaller picture; rounded so that it gets no longer and thinner than it was."""
    width, height = image.width * factor, image.height * factor
    if width >= height:
        size = max(1, floor(width)), min(HEIGHT_PX, ceil(height))
    else:
        size = min(WIDTH_PX, ceil(width)), max(1, floor(height))
    return _without_hidden(image.resize(size))


def _encoded(image: Image) -> bytes:
    """Return a picture as PNG; without a cover where it covers all."""
    opaque = image.getchannel("A").getextrema() == (255, 255)
    file = BytesIO()
    (image.convert("RGB") if opaque else image).save(file, "PNG", optimize=True)
    return file.getvalue()
