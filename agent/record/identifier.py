"""Record numbers that survive the telephone: no confusable letters, one check character."""

from __future__ import annotations

# Crockford's base 32: digits and letters without I, L, O and U.
ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
READ_AS = str.maketrans({"I": "1", "L": "1", "O": "0", "-": None, " ": None})

LETTERS = 12
RANDOM_BYTES = 8
GROUP = 4

# x^5 + x^2 + 1 is primitive over GF(2): doubling in this field gives a totally anti-symmetric
# quasigroup, so the check finds every wrong letter and every swap of neighbours (H. M. Damm,
# "Totally anti-symmetric quasigroups for all orders", 2007; from memory).
FIELD_POLYNOMIAL = 0b100101
FIELD_TOP = 0b100000


def new_record_id(random: bytes) -> str:
    """Return a record number made of 60 of the given random bits, as "XXXX-XXXX-XXXXC".

    Raises ValueError for fewer than eight bytes.
    """
    if len(random) < RANDOM_BYTES:
        msg = f"a record number needs {RANDOM_BYTES} random bytes"
        raise ValueError(msg)
    number = int.from_bytes(random[:RANDOM_BYTES], "big")
    body = "".join(ALPHABET[number >> 5 * i & 31] for i in range(LETTERS))
    return _grouped(body + _check(body))


def normal_record_id(text: str) -> str | None:
    """Return the record number as it is written, from how it was typed; None where it is wrong."""
    plain = text.upper().translate(READ_AS)
    known = len(plain) == LETTERS + 1 and all(letter in ALPHABET for letter in plain)
    if not known or _check(plain[:-1]) != plain[-1]:
        return None
    return _grouped(plain)


def is_record_id(text: str) -> bool:
    """Return True for a record number written exactly as `new_record_id` writes it."""
    return normal_record_id(text) == text


def _grouped(plain: str) -> str:
    return f"{plain[:GROUP]}-{plain[GROUP : 2 * GROUP]}-{plain[2 * GROUP :]}"


def _check(body: str) -> str:
    interim = 0
    for letter in body:
        interim = _doubled(interim ^ ALPHABET.index(letter))
    return ALPHABET[interim]


def _doubled(element: int) -> int:
    product = element << 1
    return product ^ FIELD_POLYNOMIAL if product & FIELD_TOP else product
