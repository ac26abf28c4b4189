"""The chain of optional TLVs behind a STAMP test packet (RFC 8972 §4), as a reflector answers it.

A TLV is an octet of flags, a type, a length of 16 bits and as many octets of value. The answer is
exactly as long as what was received, whatever that was.
"""

from __future__ import annotations

import hmac
from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntFlag

from agent.codec.stamp_authenticated import HMAC_LENGTH, digest

HEADER_LENGTH = 4
EXTRA_PADDING = 1
"""Type of the Extra Padding TLV (RFC 8972 §4.1)."""

HMAC_TYPE = 8
"""Type of the HMAC TLV (RFC 8972 §4.8)."""

_UNDERSTOOD = frozenset({EXTRA_PADDING, HMAC_TYPE})


class Flags(IntFlag):
    """The STAMP TLV flags (RFC 8972 §4, Figure 6)."""

    UNRECOGNIZED = 0x80
    MALFORMED = 0x40
    INTEGRITY = 0x20


@dataclass(frozen=True, slots=True, kw_only=True)
class Extension:
    """One whole TLV: where it starts in the chain, its flags, type and value."""

    start: int
    flags: int
    type: int
    value: bytes

    @property
    def end(self) -> int:
        """Return where the next one starts."""
        return self.start + HEADER_LENGTH + len(self.value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """The whole TLVs of a chain in order; `malformed_at` is where one began that is none."""

    extensions: tuple[Extension, ...]
    malformed_at: int | None = None


def read_chain(data: bytes) -> Chain:
    """Return the TLVs in `data` up to its end or to the first malformed one.

    Malformed is a TLV longer than what is left, or an HMAC of another length than 16.
    """
    found: list[Extension] = []
    at = 0
    while at < len(data):
        extension = _extension(data, at)
        if extension is None:
            return Chain(extensions=tuple(found), malformed_at=at)
        found.append(extension)
        at = extension.end
    return Chain(extensions=tuple(found))


def write_extension(kind: int, value: bytes, flags: int = Flags.UNRECOGNIZED) -> bytes:
    """Return one TLV as a sender writes it: U set, the other flags clear (RFC 8972 §4)."""
    return bytes((flags, kind)) + len(value).to_bytes(2, "big") + value


def sealed(extensions: bytes, key: bytes) -> bytes:
    """Return a chain with the HMAC TLV that covers it behind it (RFC 8972 §4.8)."""
    return extensions + write_extension(HMAC_TYPE, digest(key, extensions))


def reflected_chain(data: bytes, key: bytes | None = None) -> bytes:
    """Return the answer to a chain of TLVs; `key` is that of a session in authenticated mode.

    Every TLV is copied. U marks the types that are not understood here, M the first malformed one,
    after which nothing more is processed, and I all of them where the HMAC TLV of an authenticated
    session is missing, misplaced or wrong. Where it is right, the answer has its own.
    """
    chain = read_chain(data)
    intact = key is None or is_intact(data, chain, key)
    answer = bytearray(data)
    for extension in chain.extensions:
        answer[extension.start] = _flags(extension.type, key, intact=intact)
    if chain.malformed_at is not None:
        answer[chain.malformed_at] = Flags.MALFORMED | (0 if intact else Flags.INTEGRITY)
    if key is not None and intact:
        _seal_again(answer, chain, key)
    return bytes(answer)


def is_intact(data: bytes, chain: Chain, key: bytes) -> bool:
    """Tell whether a chain of an authenticated session is covered as RFC 8972 §4.8 asks.

    A single Extra Padding TLV needs no HMAC. Else the first HMAC must cover all that precedes it,
    and only Extra Padding may follow.
    """
    kinds = [extension.type for extension in chain.extensions]
    if chain.malformed_at is None and kinds in ([], [EXTRA_PADDING]):
        return True
    if HMAC_TYPE not in kinds or chain.malformed_at is not None:
        return False
    place = kinds.index(HMAC_TYPE)
    own = chain.extensions[place]
    right = hmac.compare_digest(own.value, digest(key, data[: own.start]))
    return right and _only_padding(kinds[place + 1 :])


def _extension(data: bytes, at: int) -> Extension | None:
    value_at = at + HEADER_LENGTH
    if value_at > len(data):
        return None
    length = int.from_bytes(data[at + 2 : value_at], "big")
    kind = data[at + 1]
    if value_at + length > len(data) or (kind == HMAC_TYPE and length != HMAC_LENGTH):
        return None
    return Extension(start=at, flags=data[at], type=kind, value=data[value_at : value_at + length])


def _flags(kind: int, key: bytes | None, *, intact: bool) -> int:
    # Without a key nothing can be said of an HMAC: it is then like any type not understood.
    understood = kind in _UNDERSTOOD and (kind != HMAC_TYPE or key is not None)
    return (0 if understood else Flags.UNRECOGNIZED) | (0 if intact else Flags.INTEGRITY)


def _seal_again(answer: bytearray, chain: Chain, key: bytes) -> None:
    for extension in chain.extensions:
        if extension.type == HMAC_TYPE:
            value_at = extension.start + HEADER_LENGTH
            answer[value_at : extension.end] = digest(key, answer[: extension.start])
            return


def _only_padding(kinds: Sequence[int]) -> bool:
    return all(kind == EXTRA_PADDING for kind in kinds)
