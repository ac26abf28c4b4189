"""Spoils valid packets in the ways that networks and attackers do, from a seed."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence

LONGEST = 9000
EDGES = (0, 1, 2, 3, 4, 5, 7, 8, 0x0F, 0x10, 0x3F, 0x40, 0x7F, 0x80, 0xC0, 0xC1, 0xFE, 0xFF)
"""Octets at which lengths, flags and pointers turn over."""


def spoiled(valid: Sequence[bytes], count: int, seed: int) -> Iterator[bytes]:
    """Yield so many packets, each a valid one with one to eight things done to it."""
    draw = random.Random(seed)
    for _ in range(count):
        data = bytearray(draw.choice(valid))
        for _ in range(draw.choice((1, 1, 1, 2, 3, 8))):
            draw.choice(WAYS)(data, draw, valid)
        yield bytes(data[:LONGEST])


def _flip(data, draw, _):
    if data:
        data[draw.randrange(len(data))] ^= 1 << draw.randrange(8)


def _edge(data, draw, _):
    if data:
        data[draw.randrange(len(data))] = draw.choice(EDGES)


def _early(data, draw, _):
    """Spoil the head, where versions, types and lengths stand."""
    if data:
        data[draw.randrange(min(len(data), 12))] = draw.choice(EDGES)


def _word(data, draw, _):
    at = draw.randrange(len(data) + 1)
    data[at : at + 2] = draw.choice((0, 1, 0xFFFF, len(data), draw.randrange(65_536))).to_bytes(2)


def _cut(data, draw, _):
    del data[draw.randrange(len(data) + 1) :]


def _drop(data, draw, _):
    at = draw.randrange(len(data) + 1)
    del data[at : at + draw.randrange(1, 9)]


def _append(data, draw, _):
    data += draw.randbytes(draw.choice((1, 3, 4, 8, 44, 600)))


def _repeat(data, draw, _):
    at = draw.randrange(len(data) + 1)
    part = bytes(data[at : at + draw.randrange(1, 40)])
    data[at:at] = part * draw.choice((1, 2, 50))


def _splice(data, draw, valid):
    other = draw.choice(valid)
    data[draw.randrange(len(data) + 1) :] = other[draw.randrange(len(other) + 1) :]


def _noise(data, draw, _):
    data[:] = draw.randbytes(draw.randrange(200))


WAYS = (_flip, _edge, _early, _word, _cut, _drop, _append, _repeat, _splice, _noise)
