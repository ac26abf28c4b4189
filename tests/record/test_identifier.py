import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.record.identifier import ALPHABET, is_record_id, new_record_id, normal_record_id

numbers = st.binary(min_size=8, max_size=16).map(new_record_id)


@given(numbers)
def test_a_new_number_is_valid_and_has_no_letter_that_can_be_mistaken(number):
    assert is_record_id(number)
    assert not set(number) & set("ILOU")
    assert [len(group) for group in number.split("-")] == [4, 4, 5]


@given(numbers)
def test_every_single_wrong_letter_is_found(number):
    for i, letter in enumerate(number):
        for other in ALPHABET:
            if letter not in ("-", other):
                assert normal_record_id(number[:i] + other + number[i + 1 :]) is None


@given(numbers)
def test_every_swap_of_neighbours_is_found(number):
    plain = number.replace("-", "")
    for i in range(len(plain) - 1):
        if plain[i] != plain[i + 1]:
            swapped = plain[:i] + plain[i + 1] + plain[i] + plain[i + 2 :]
            assert normal_record_id(swapped) is None


@given(numbers)
def test_how_people_type_it_is_read(number):
    typed = number.lower().replace("1", "l").replace("0", "o").replace("-", " ")
    assert normal_record_id(typed) == number


@pytest.mark.parametrize("text", ["", "AB12", "../../etc/passwd", "É" * 13, "0" * 14])
def test_what_is_no_number_is_refused(text):
    assert normal_record_id(text) is None


def test_different_random_bits_give_different_numbers():
    made = {new_record_id(i.to_bytes(8, "big")) for i in range(2000)}
    assert len(made) == 2000


def test_too_few_random_bytes_are_refused():
    with pytest.raises(ValueError, match="8 random bytes"):
        new_record_id(b"short")
