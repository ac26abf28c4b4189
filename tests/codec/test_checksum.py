import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec.checksum import checksum, compensation, is_intact, ones_sum

# Source beside each: hexadecimal data, checksum field.
CHECKSUMS = [
    ("0001f203f4f5f6f7", 0x220D),  # RFC 1071 §3, complement of the printed sum
    ("450000730000400040110000c0a80001c0a800c7", 0xB861),  # textbook IPv4 header, from memory
    ("08000000123400010001020304050607", 0xD9BA),  # RFC 792 echo, arithmetic
    ("00000000123400010001020304050607", 0xE1BA),  # RFC 792 echo reply, arithmetic
    ("080000001234000141", 0xA4CA),  # RFC 792: odd length is filled with a zero byte
]


@pytest.mark.parametrize(("data", "expected"), CHECKSUMS)
def test_checksums(data, expected):
    assert checksum(bytes.fromhex(data)) == expected


def test_sum_of_the_standard_example_and_of_its_parts():
    # RFC 1071 §3: whole ddf2; split at an odd place f201 and f0eb, the second swapped to ebf0.
    assert ones_sum(bytes.fromhex("0001f203f4f5f6f7")) == 0xDDF2
    assert ones_sum(bytes.fromhex("0001f2")) == 0xF201
    assert ones_sum(bytes.fromhex("03f4f5f6f7")) == 0xF0EB
    assert ones_sum(bytes.fromhex("f201ebf0")) == 0xDDF2


def _end_around(data: bytes) -> int:
    total = 0
    for i in range(0, len(data), 2):
        total += int.from_bytes(data[i : i + 2].ljust(2, b"\0"), "big")
        total = (total & 0xFFFF) + (total >> 16)
    return total


@given(st.binary(max_size=200))
def test_equals_adding_with_end_around_carry(data):
    # RFC 1071 §4.1 gives this loop as the plain implementation.
    assert ones_sum(data) == _end_around(data)


@given(st.binary(min_size=2, max_size=64).filter(lambda d: len(d) % 2 == 0))
def test_a_message_with_its_checksum_is_intact(data):
    assert is_intact(data + checksum(data).to_bytes(2, "big"))


@given(st.lists(st.integers(0, 0xFFFF), min_size=1, max_size=8))
def test_compensation_makes_every_payload_sum_alike(words):
    data = b"".join(w.to_bytes(2, "big") for w in [*words, compensation(*words)])
    assert ones_sum(data) in {0, 0xFFFF}
