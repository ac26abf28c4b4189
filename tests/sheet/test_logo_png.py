"""A PNG logo is taken down to its pixels, whatever else the file brings along.

Sections are those of the W3C's Portable Network Graphics (Second Edition).
"""

import random
import struct
import zlib
from io import BytesIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from logo_files import SIGNATURE, TERN_PNG, chunk, chunks_of, header, pixels, png
from logo_laws import attempted, lawful
from PIL import Image

from agent.errors import LogoError
from agent.sheet.logos import read_logo

END = chunk(b"IEND")
HUSH = b"hush: taken at Tern Bay"


def shown(content):
    """Return a picture's pixels as colour and cover, read by the library alone."""
    return Image.open(BytesIO(content)).convert("RGBA")


def seen_in(content):
    """Return every pixel as red, green, blue and cover."""
    octets = shown(content).tobytes()
    return [tuple(octets[at : at + 4]) for at in range(0, len(octets), 4)]


def test_the_files_made_by_hand_are_those_of_the_standard():
    """The whole of IEND stands in §5.3 and in every file that there is (bytes from memory)."""
    assert bytes.fromhex("00000000 49454e44 ae426082") == END
    assert shown(png()).getpixel((19, 9)) == (0x0B, 0x4F, 0x6C, 255)


# §11.3: what a PNG may say beside its pixels; APNG's are those of its own specification.
BESIDE = [
    chunk(b"tEXt", b"Author\0" + HUSH),
    chunk(b"zTXt", b"Comment\0\0" + zlib.compress(b"a" * 20_000_000)),
    chunk(b"zTXt", b"Comment\0\0no zlib at all"),
    chunk(b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0<x/>" + HUSH * 5_000),
    chunk(b"eXIf", b"MM\0*\0\0\0\x08" + HUSH),
    chunk(b"iCCP", b"p\0\0" + zlib.compress(b"\0" * 20_000_000)),
    chunk(b"gAMA", struct.pack(">I", 0)),
    chunk(b"pHYs", bytes(9)),
    chunk(b"tIME", b"\x07\xea\x03\x02\x0a\x00\x00"),
    chunk(b"acTL", struct.pack(">2I", 1_000_000, 0)),
    chunk(b"acTL", b""),
    chunk(b"fcTL", bytes(26)),
    chunk(b"fdAT", bytes(4) + HUSH),
    chunk(b"prVt", HUSH),
]


@pytest.mark.parametrize("beside", BESIDE, ids=[f"{b[4:8]!r} {len(b)}" for b in BESIDE])
def test_what_a_png_says_beside_its_pixels_is_gone(beside):
    logo = read_logo(png(beside))
    assert logo == read_logo(png())
    assert chunks_of(logo.content) == [b"IHDR", b"IDAT", b"IEND"]
    assert b"hush" not in logo.content


def test_what_follows_the_end_is_gone():
    assert read_logo(png() + HUSH + b"<svg onload='x'/>") == read_logo(png())


def bent(at, value):
    content = bytearray(png())
    content[at] ^= value
    return bytes(content)


LINE = chunk(b"IDAT", zlib.compress(b"\0" * 60))
REFUSED = [
    # §5.2
    ("wrong signature", bent(1, 0x20), "neither"),
    ("signature alone", SIGNATURE, "too early"),
    # §5.3, §5.5, §5.6
    ("header cut", png()[:20], "too early"),
    ("pixels cut", png()[:-20], "too early"),
    ("no end", png()[: -len(END)], "too early"),
    ("a length beyond the file", SIGNATURE + b"\x7f\xff\xff\xffIHDR" + bytes(99), "too early"),
    ("wrong CRC", bent(-1, 1), "damaged"),
    ("one bit of the pixels", bent(-20, 1), "damaged"),
    ("end alone", SIGNATURE + END, "one header"),
    ("pixels first", SIGNATURE + LINE + header(1, 1) + END, "one header"),
    ("header short", SIGNATURE + chunk(b"IHDR", bytes(9)) + LINE + END, "one header"),
    # The second one would be believed by a reader that looks at the first alone.
    ("two headers", png(header(60_000, 60_000)), "one header"),
    ("no pixels", SIGNATURE + header(4, 4) + END, "damaged"),
    ("too few pixels", SIGNATURE + header(20, 100) + LINE + END, "damaged"),
    ("pixels no zlib", SIGNATURE + header(4, 4) + chunk(b"IDAT", b"no zlib") + END, "damaged"),
    # §11.2.3
    ("no palette", png(colour=3, pixel=b"\0"), "palette"),
    # §5.4
    ("a needed part nobody knows", png(chunk(b"PrVt")), "unknown"),
    # §11.2.2
    ("bits nobody knows", png(depth=7), "damaged"),
    ("colour nobody knows", png(colour=5), "damaged"),
    ("bomb in the header", SIGNATURE + header(60_000, 60_000) + LINE + END, "4 million"),
    ("largest numbers", SIGNATURE + header(2**32 - 1, 2**32 - 1) + LINE + END, "4 million"),
    ("a picture of zeros", png(width=2_001, height=2_000, pixel=bytes(4)), "4 million"),
    ("no area", SIGNATURE + header(0, 10) + LINE + END, "no area"),
    ("a line", png(width=210, height=10), "20 times"),
    ("a tall line", png(width=10, height=210), "20 times"),
    ("all clear", png(pixel=b"\xff\xff\xff\0"), "clear"),
    ("too large a file", png(chunk(b"prVt", bytes(256_000))), "256 kB"),
]


@pytest.mark.parametrize(("content", "told"), [c[1:] for c in REFUSED], ids=[c[0] for c in REFUSED])
def test_what_is_no_sound_picture_is_refused_in_a_sentence(content, told):
    with pytest.raises(LogoError, match=told):
        read_logo(content)
    assert attempted(content) is None


def test_a_bomb_is_not_unpacked():
    """30 MB of zeros in 30 kB behind a header that asks for 800 octets of them."""
    bomb = chunk(b"IDAT", zlib.compress(bytes(30_000_000), 9))
    end = SIGNATURE + header(20, 10, colour=2) + bomb + END
    assert shown(read_logo(end).content).getpixel((0, 0)) == (0, 0, 0, 255)


# §6.1 and §11.2.2: colour types and depths, and what one pixel of each looks like.
@pytest.mark.parametrize(
    ("depth", "colour", "pixel", "between", "seen"),
    [
        (8, 0, b"\x80", (), (0x80, 0x80, 0x80, 255)),
        (16, 0, b"\x80\x12", (), (0x80, 0x80, 0x80, 255)),
        (16, 0, b"\xff\xff", (), (255, 255, 255, 255)),
        (8, 2, b"\x10\x20\x30", (), (0x10, 0x20, 0x30, 255)),
        (16, 2, b"\x10\xff\x20\xff\x30\xff", (), (0x10, 0x20, 0x30, 255)),
        (8, 3, b"\1", (chunk(b"PLTE", bytes(3) + b"\x10\x20\x30"),), (0x10, 0x20, 0x30, 255)),
        (
            8,
            3,
            b"\1",
            (chunk(b"PLTE", bytes(3) + b"\x10\x20\x30"), chunk(b"tRNS", b"\xff\x40")),
            (0x10, 0x20, 0x30, 0x40),
        ),
        (8, 4, b"\x80\x40", (), (0x80, 0x80, 0x80, 0x40)),
        (8, 6, b"\x10\x20\x30\x40", (), (0x10, 0x20, 0x30, 0x40)),
    ],
)
def test_every_kind_of_pixel_is_shown_as_it_is(depth, colour, pixel, between, seen):
    content = png(*between, depth=depth, colour=colour, pixel=pixel)
    assert seen_in(read_logo(content).content) == [seen] * 200
    lawful(content)


def test_a_colour_under_a_clear_pixel_is_not_kept():
    """A pixel that nobody sees could hold anything."""
    line = b"\0" + b"hid\0" + b"\x0b\x4f\x6c\xff"
    two = SIGNATURE + header(2, 1) + chunk(b"IDAT", zlib.compress(line)) + END
    assert seen_in(read_logo(two).content) == [(0, 0, 0, 0), (11, 79, 108, 255)]


@pytest.mark.parametrize(
    ("width", "height", "kept"),
    [
        (480, 160, (480, 160)),
        (960, 320, (480, 160)),
        (960, 160, (480, 80)),
        (300, 600, (80, 160)),
        (1900, 100, (480, 26)),
        (30, 10, (30, 10)),
    ],
)
def test_a_picture_shrinks_into_the_box_and_never_grows(width, height, kept):
    logo = read_logo(png(width=width, height=height))
    assert shown(logo.content).size == kept
    assert logo.width_ratio == kept[0] / kept[1]


@pytest.mark.parametrize(("width", "height"), [(280, 280), (450, 150), (140, 160)])
def test_a_picture_that_cannot_be_packed_shrinks_until_it_is_small(width, height):
    noise = random.Random(8).randbytes((width * 3 + 1) * height)
    lines = bytearray(noise)
    lines[:: width * 3 + 1] = bytes(height)
    packed = chunk(b"IDAT", zlib.compress(lines))
    content = SIGNATURE + header(width, height, colour=2) + packed + END
    logo = read_logo(content)
    assert 20_000 < len(logo.content) <= 40_000
    assert logo.width_ratio == pytest.approx(width / height, rel=0.05)
    lawful(content)


def test_our_own_picture_is_the_same_to_the_pixel():
    kept = read_logo(TERN_PNG).content
    assert shown(kept).size == (240, 96)
    pairs = [(a, b) for a, b in zip(seen_in(TERN_PNG), seen_in(kept), strict=True) if a[3]]
    assert all(a == b for a, b in pairs)
    assert len(pairs) > 1_000


KINDS = st.sampled_from([b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND", b"tEXt", b"acTL", b"ABCD"])
CHUNKS = st.builds(chunk, KINDS, st.binary(max_size=30))
SOUND = st.builds(
    pixels, st.integers(1, 4), st.integers(1, 4), st.sampled_from([b"\x80", bytes(4)])
)


@settings(deadline=None)
@given(
    width=st.integers(0, 9),
    height=st.integers(0, 9),
    depth=st.sampled_from([1, 2, 4, 8, 16, 3]),
    colour=st.integers(0, 7),
    parts=st.lists(CHUNKS | SOUND, max_size=4),
)
def test_any_chunks_give_a_logo_or_one_error(width, height, depth, colour, parts):
    lawful(b"".join((SIGNATURE, header(width, height, depth, colour), *parts, END)))
