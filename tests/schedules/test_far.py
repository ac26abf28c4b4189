from hypothesis import given
from hypothesis import strategies as st

from agent.schedules.far import (
    FarReport,
    Reflection,
    far_arrivals,
    received_by_counts,
    received_by_report,
)


def answers(*pairs):
    return [(number, Reflection(count=count)) for number, count in pairs]


def test_an_incomplete_log_proves_no_loss():
    report = FarReport(received=5, order=((0, 2),))
    known, order = received_by_report(report, [True, False, False])
    assert known == (True, True, None)
    assert order == (0, 1)


def test_what_was_answered_was_received_whatever_the_log_says():
    known, _ = received_by_report(FarReport(received=0, order=()), [True, False])
    assert known == (True, False)


def test_a_hostile_log_is_bounded():
    report = FarReport(received=1, order=((-5, 10**12), (0, 10**12), (2**40, 7)) * 50)
    assert far_arrivals(report, 5) == (0, 1, 2, 3, 4)


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
