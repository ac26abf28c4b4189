"""The state of IPv6 and the cost of its break, by the timers that RFC 8305 publishes."""

import pytest
from families import PREFIX, at_once, look, silent, swallowed, tried, unnamed
from hypothesis import given
from hypothesis import strategies as st

from agent.measurements import FamilyBreak, FamilyLook, FamilyState, FamilyTry, Named
from agent.stats.families import (
    ATTEMPT_DELAY_S,
    CONNECT_LIMIT_S,
    NOTICED_MS,
    RESOLUTION_DELAY_S,
    family_statistics,
)

ONE, TWO, THREE = "harbour", "lighthouse", "chandlery"


def test_the_timers_are_the_published_ones():
    """RFC 8305 §8: resolution delay 50 ms, attempt delay 250 ms, its recommended least 100 ms."""
    assert (RESOLUTION_DELAY_S, ATTEMPT_DELAY_S, NOTICED_MS) == (0.050, 0.250, 100)


def test_a_client_that_waits_has_sent_seven_syns_before_it_gives_up():
    """RFC 6298 §2.1 begins at one second, §5.5 doubles; six repeats are the default of Linux."""
    assert sum(2**repeat for repeat in range(7)) == CONNECT_LIMIT_S


SOUND = [
    ("both families", look(tried(ONE, 6), tried(TWO, 6)), FamilyState.PRESENT),
    ("a name without IPv6", look(tried(ONE, 6), unnamed(TWO, 6)), FamilyState.PRESENT),
    ("no IPv6 address", look(held=(4,), routed=(4,)), FamilyState.ABSENT),
    ("a route alone", look(held=(4,), routed=(4, 6)), FamilyState.ABSENT),
    ("no name with IPv6", look(unnamed(ONE, 6), unnamed(TWO, 6)), FamilyState.UNTRIED),
    (
        "IPv6 alone, translated",
        FamilyLook(
            held=(6,),
            routed=(6,),
            request_bytes=2_000,
            translation_prefix=PREFIX,
            tries=(tried(ONE, 6), tried(TWO, 6)),
        ),
        FamilyState.PRESENT,
    ),
    ("a lost SYN", look(tried(ONE, 6), silent(TWO, 6, small_status=200)), FamilyState.PRESENT),
    (
        "nothing answers over either",
        look(silent(ONE, 6), silent(TWO, 6), four=(silent(ONE, 4), silent(TWO, 4))),
        FamilyState.UNTRIED,
    ),
    (
        "full packets vanish over both",
        look(swallowed(ONE, 6), swallowed(TWO, 6), four=(swallowed(ONE, 4), swallowed(TWO, 4))),
        FamilyState.UNTRIED,
    ),
    ("one slow page", look(tried(ONE, 6, 900.0), tried(TWO, 6)), FamilyState.PRESENT),
    ("one page, slow", look(tried(ONE, 6, 900.0)), FamilyState.PRESENT),
]


@pytest.mark.parametrize(("case", "seen", "state"), SOUND, ids=[c[0] for c in SOUND])
def test_what_is_sound_breaks_nothing(case, seen, state):
    found = family_statistics(seen)
    assert (found.state, found.breaks, found.hangs) == (state, (), False)


BROKEN = [
    (look(at_once(ONE, 6), at_once(TWO, 6), routed=(4,)), "no-route"),
    (look(silent(ONE, 6), silent(TWO, 6)), "no-answer"),
    (look(at_once(ONE, 6, "refused"), silent(TWO, 6)), "no-answer"),
    (look(swallowed(ONE, 6), unnamed(TWO, 6)), "large-lost"),
    (look(swallowed(ONE, 6), tried(TWO, 6, bytes=200)), "large-lost"),
    (look(tried(ONE, 6, 180.0), tried(TWO, 6, 190.0)), "slower"),
    (look(*(unnamed(n, 6, Named.SILENT) for n in (ONE, TWO))), "names-silent"),
]


@pytest.mark.parametrize(("seen", "kind"), BROKEN)
def test_each_break_is_told_by_its_kind(seen, kind):
    found = family_statistics(seen)
    assert found.state is FamilyState.BROKEN
    assert found.breaks == (FamilyBreak(kind),)


def test_a_site_that_alone_does_not_answer_breaks_no_family():
    found = family_statistics(look(silent(ONE, 6), tried(TWO, 6)))
    assert found.state is FamilyState.PRESENT
    assert found.breaks == (FamilyBreak.SITE_UNANSWERED,)
    assert found.unanswered == (ONE,)


def test_one_page_is_too_few_to_call_a_family_dead():
    found = family_statistics(look(silent(ONE, 6), unnamed(TWO, 6)))
    assert found.breaks == (FamilyBreak.SITE_UNANSWERED,)


def test_a_long_page_over_ipv6_proves_that_full_packets_pass():
    found = family_statistics(look(swallowed(ONE, 6), tried(TWO, 6)))
    assert FamilyBreak.LARGE_LOST not in found.breaks


ALONE = {"held": (6,), "routed": (6,), "request_bytes": 2_000}


@pytest.mark.parametrize(
    ("seen", "missing"),
    [
        (FamilyLook(**ALONE, tries=(tried(ONE, 6),)), True),
        (FamilyLook(**ALONE, tries=(unnamed(ONE, 6),)), True),
        (FamilyLook(**ALONE, tries=(tried(ONE, 6),), translation_prefix=PREFIX), False),
        (FamilyLook(**ALONE, tries=(tried(ONE, 6),), translates_itself=True), False),
        (FamilyLook(**ALONE, tries=(unnamed(ONE, 6, Named.SILENT),)), False),
        (look(tried(ONE, 6)), False),
        (look(held=(4,)), False),
    ],
)
def test_ipv4_is_missing_where_nothing_stands_in_for_it(seen, missing):
    found = family_statistics(seen)
    assert found.ipv4_missing is missing
    assert found.breaks == ()


COSTS = [
    (look(tried(ONE, 6), tried(TWO, 6)), 0.0, 0.0),
    (look(held=(4,)), 0.0, 0.0),
    (look(silent(ONE, 6), silent(TWO, 6)), 0.250, 127.0),
    (look(at_once(ONE, 6), at_once(TWO, 6), routed=(4,)), 0.002, 0.002),
    (look(tried(ONE, 6, 180.0), tried(TWO, 6, 190.0)), 0.173, 0.173),
    (look(tried(ONE, 6, 812.0), tried(TWO, 6, 812.0)), 0.250, 0.800),
    (look(*(unnamed(n, 6, Named.SILENT) for n in (ONE, TWO))), 0.050, 10.0),
    (look(swallowed(ONE, 6), swallowed(TWO, 6)), None, None),
    (look(unnamed(ONE, 6)), None, None),
]


@pytest.mark.parametrize(("seen", "racing_s", "single_s"), COSTS)
def test_a_new_connection_loses_what_the_timers_say(seen, racing_s, single_s):
    """RFC 8305 §5: the next attempt begins after 250 ms, or once the one before has failed."""
    found = family_statistics(seen)
    if racing_s is None:
        assert (found.racing_s, found.single_s) == (None, None)
    else:
        assert found.racing_s == pytest.approx(racing_s)
        assert found.single_s == pytest.approx(single_s)


def test_a_page_that_connects_and_hangs_says_so_instead_of_a_time():
    assert family_statistics(look(swallowed(ONE, 6), swallowed(TWO, 6))).hangs


def test_counts_and_medians_are_of_the_pages_over_each_family():
    four = (tried(ONE, 4, 10.0), tried(TWO, 4, 14.0), tried(THREE, 4, 90.0))
    six = (tried(ONE, 6, 11.0), tried(TWO, 6, 15.0), silent(THREE, 6))
    found = family_statistics(look(*six, four=four))
    assert (found.tried, found.answered) == (3, 2)
    assert (found.connect_4_ms, found.connect_6_ms) == (14.0, 13.0)


def tries():
    times = st.none() | st.floats(0, 5_000)
    return st.builds(
        FamilyTry,
        target=st.sampled_from([ONE, TWO, THREE]),
        family=st.sampled_from([4, 6]),
        named=st.sampled_from(Named),
        sent_s=st.just(0.0),
        connect_ms=times,
        took_ms=times,
        status=st.none() | st.just(200),
        bytes=st.none() | st.integers(0, 5_000),
        problem=st.sampled_from([None, "timed-out", "refused", "no-route", "name-not-resolved"]),
        small_status=st.none() | st.just(200),
    )


@given(
    st.lists(tries(), max_size=8),
    st.sampled_from([(), (4,), (6,), (4, 6)]),
    st.sampled_from([(), (4,), (6,), (4, 6)]),
)
def test_whatever_was_seen_a_racing_client_never_loses_more_than_its_attempt_delay(
    seen, held, routed
):
    found = family_statistics(
        FamilyLook(held=held, routed=routed, request_bytes=2_000, tries=tuple(seen))
    )
    if found.racing_s is not None:
        assert 0 <= found.racing_s <= min(ATTEMPT_DELAY_S, found.single_s)
    assert found.state is not FamilyState.BROKEN or found.breaks
    assert 6 in held or found.state is FamilyState.ABSENT
