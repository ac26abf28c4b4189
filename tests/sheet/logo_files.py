"""Logo files for tests: our own scenario's, and PNGs and SVGs put together by hand."""

import struct
import zlib
from pathlib import Path

LOGOS = Path(__file__).with_name("logos")
TERN_SVG = (LOGOS / "ternbay.svg").read_bytes()
TERN_PNG = (LOGOS / "ternbay.png").read_bytes()

SAFE = '<rect width="20" height="10" fill="#0b4f6c"/>'
SIGNATURE = bytes([137, 80, 78, 71, 13, 10, 26, 10])
"""PNG (Second Edition) §5.2, in decimal as it stands there."""


def svg(inner=SAFE, head='viewBox="0 0 40 20"', before=""):
    return (
        f'{before}<svg xmlns="http://www.w3.org/2000/svg" '
        f'xmlns:xlink="http://www.w3.org/1999/xlink" {head}>{inner}</svg>'
    ).encode()


def chunk(kind, data=b""):
    """PNG §5.3: length, type, data, CRC over type and data."""
    body = kind + data
    return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))


def header(width, height, depth=8, colour=6):
    """PNG §11.2.2; colour 0 grey, 2 colour, 3 palette, 6 colour and alpha."""
    return chunk(b"IHDR", struct.pack(">2I5B", width, height, depth, colour, 0, 0, 0))


def pixels(width, height, pixel):
    """PNG §9.2: every line begins with its filter, here 0."""
    return chunk(b"IDAT", zlib.compress((b"\0" + pixel * width) * height, 9))


def png(*between, width=20, height=10, depth=8, colour=6, pixel=b"\x0b\x4f\x6c\xff"):
    """Return a picture of one colour with further chunks between header and pixels."""
    return b"".join(
        (
            SIGNATURE,
            header(width, height, depth, colour),
            *between,
            pixels(width, height, pixel),
            chunk(b"IEND"),
        )
    )


def chunks_of(content):
    """Return the types of a PNG's chunks, in their order."""
    at, found = len(SIGNATURE), []
    while at < len(content):
        length, kind = struct.unpack_from(">I4s", content, at)
        found.append(kind)
        at += length + 12
    return found
