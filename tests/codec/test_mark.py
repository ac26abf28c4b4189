from hypothesis import given
from hypothesis import strategies as st

from agent.codec.checksum import ones_sum
from agent.codec.mark import Mark, encode_mark, find_mark

u32 = st.integers(0, 2**32 - 1)
marks = st.builds(Mark, nonce=u32, number=u32)


@given(marks, st.integers(10, 200))
def test_a_mark_is_found_again(mark, length):
    payload = encode_mark(mark, length)
    assert len(payload) == length
    assert find_mark(payload) == mark


@given(st.integers(1, 2**32 - 1), st.lists(u32, min_size=2, max_size=20))
def test_all_probes_of_a_run_have_the_same_checksum(nonce, numbers):
    # Routers hash the transport checksum into the flow where ports are not looked at; RFC 1071
    # arithmetic makes the sum of the payload the same whatever the number is.
    sums = {ones_sum(encode_mark(Mark(nonce=nonce, number=n), 24)) for n in numbers}
    assert sums == {0xFFFF}


@given(marks, st.integers(0, 9))
def test_a_mark_that_was_cut_off_is_no_mark(mark, length):
    assert find_mark(encode_mark(mark)[:length]) is None


@given(st.binary(max_size=30))
def test_any_bytes_give_a_mark_or_none(payload):
    mark = find_mark(payload)
    assert mark is None or payload.startswith(encode_mark(mark))
