import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.schedules.far import Reflection
from agent.schedules.far_counts import arrivals_by_counts, received_by_counts


def answers(*pairs):
    return [(number, Reflection(count=count)) for number, count in pairs]


def test_counts_of_a_stateful_reflector_split_losses():
    # RFC 8762 §4.3: a stateful reflector counts what it reflects, from zero. Probe 1 is lost on
    # the way there, probe 4 on the way back, one of 6 and 7 either way, and 9 has no successor.
    seen = answers((0, 0), (2, 1), (3, 2), (5, 4), (8, 6))
    known = received_by_counts(10, seen)
    assert known == (True, False, True, True, True, True, None, None, True, None)


def test_counts_equal_to_the_numbers_may_be_those_of_a_stateless_reflector():
    known = received_by_counts(4, answers((0, 0), (2, 2), (3, 3)))
    assert known == (True, None, True, True)


def test_a_copy_made_on_the_way_there_is_not_taken_for_another_probe():
    # Probe 0 arrived twice (counts 0 and 1), probe 1 never, probe 2 as the third packet.
    known = received_by_counts(3, answers((0, 0), (0, 1), (2, 2)))
    assert known == (True, False, True)


def test_reordered_counts_leave_the_gap_between_them_unknown():
    assert received_by_counts(3, answers((0, 1), (2, 0))) == (True, None, True)


@given(st.lists(st.sampled_from(["both", "there", "back"]), max_size=60))
def test_counts_never_contradict_the_truth(fates):
    reached = 0
    seen = []
    for number, fate in enumerate(fates):
        if fate == "there":
            continue
        if fate == "both":
            seen.append((number, Reflection(count=reached)))
        reached += 1
    for fate, known in zip(fates, received_by_counts(len(fates), seen), strict=True):
        assert known in {None, fate != "there"}


def test_a_reflector_known_to_count_tells_of_the_way_back_alone():
    known = received_by_counts(4, answers((0, 0), (2, 2), (3, 3)), stateful=True)
    assert known == (True, True, True, True)


def test_what_moved_the_count_on_may_be_a_copy_once_one_was_seen():
    # Probe 0 came twice, and one of the numbers 2 and 3 is probe 1 or a copy: not told.
    known = received_by_counts(4, answers((0, 0), (0, 1), (2, 3)), stateful=True)
    assert known == (True, None, True, None)


def test_probes_that_never_left_are_neither_lost_nor_in_the_way():
    known = received_by_counts(4, answers((0, 0), (3, 2)), stateful=True, unsent={1})
    assert known == (True, False, True, True)


@pytest.mark.parametrize(
    ("seen", "expected"),
    [
        # Of 1, 2 and 3 one arrived: which is not told, how many is, by the answer to the last.
        (answers((0, 0), (4, 2)), 3),
        # The last of the series is open; the first probe that closes it is answered, or the next.
        (answers((0, 0), (3, 2), (5, 4)), 4),
        (answers((0, 0), (3, 2), (5, 3)), 3),
        (answers((0, 0), (6, 5)), None),
        (answers((0, 0), (3, 1), (6, 2)), 2),
        (answers((0, 0), (3, 1), (6, 4)), 3),
        (answers((0, 0), (3, 1)), None),
        ([], None),
        # One was doubled, or overtook: how many probes that were is not told.
        (answers((0, 0), (0, 1), (4, 3)), None),
        (answers((0, 1), (2, 0), (4, 3)), None),
    ],
)
def test_the_end_count_tells_how_many_arrived(seen, expected):
    known = received_by_counts(7, seen, stateful=True)
    assert arrivals_by_counts(5, known, seen) == expected


@pytest.mark.parametrize(
    "counts", [(0, 0, 0), (0, 1, 1), (5, 6, 8), (0, 1, 2**32 - 1)], ids=lambda c: str(c[-1])
)
def test_counts_that_cannot_be_are_not_believed(counts):
    seen = answers(*zip((0, 1, 4), counts, strict=True))
    known = received_by_counts(5, seen, stateful=True)
    assert arrivals_by_counts(5, known, seen) is None


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 12)), max_size=20))
def test_any_counts_give_a_number_that_can_be(pairs):
    seen = answers(*pairs)
    known = received_by_counts(10, seen, stateful=True)
    told = arrivals_by_counts(6, known, seen)
    answered = len({number for number, _ in pairs if number < 6})
    assert told is None or answered <= told <= 6


FATES = st.lists(st.sampled_from(["both", "there", "back"]), min_size=1, max_size=60)


@given(FATES, FATES)
def test_a_closed_series_counts_exactly_what_arrived(fates, closing):
    reached, seen = 0, []
    for number, fate in enumerate(fates + closing):
        if fate == "there":
            continue
        if fate == "both":
            seen.append((number, Reflection(count=reached)))
        reached += 1
    known = received_by_counts(len(fates + closing), seen, stateful=True)
    told = arrivals_by_counts(len(fates), known, seen)
    if closing[0] == "both" or fates[-1] == "both":
        assert told is not None
    if told is not None:
        assert told == sum(fate != "there" for fate in fates)
