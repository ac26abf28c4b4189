import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec.reader import Reader
from agent.errors import MalformedMessage


def test_reads_big_endian_fields_in_order():
    # Network byte order: RFC 791 Appendix B.
    reader = Reader(bytes.fromhex("01 0203 04050607 08090a0b0c0d0e0f ffee"))
    assert reader.u8() == 1
    assert reader.u16() == 0x0203
    assert reader.u32() == 0x04050607
    assert reader.u64() == 0x08090A0B0C0D0E0F
    assert reader.remaining == 2
    assert reader.rest() == b"\xff\xee"
    assert reader.remaining == 0


def test_a_limited_reader_stops_at_its_own_end_and_counts_from_the_whole():
    outer = Reader(b"abcdef", "option list")
    assert outer.bytes(1) == b"a"
    inner = outer.limited(3)
    assert outer.offset == 4
    assert (inner.offset, inner.bytes(2)) == (1, b"bc")
    with pytest.raises(MalformedMessage) as caught:
        inner.u16()
    assert caught.value.fields["offset"] == 3
    assert caught.value.fields["message"] == "option list"
    assert outer.rest() == b"ef"


def test_a_negative_count_is_refused():
    with pytest.raises(MalformedMessage):
        Reader(b"abc").bytes(-1)


@given(st.binary(max_size=40), st.lists(st.integers(0, 12), max_size=12))
def test_never_reads_past_the_end_and_loses_nothing(data, counts):
    reader = Reader(data)
    seen = b""
    for count in counts:
        if count <= reader.remaining:
            seen += reader.bytes(count)
            continue
        with pytest.raises(MalformedMessage):
            reader.bytes(count)
        assert reader.offset == len(seen)
    assert seen + reader.rest() == data
