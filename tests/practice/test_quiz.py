"""What a trainee is asked: every candidate equally likely, the truth among the choices, judged."""

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.errors import UsageError
from agent.practice.faults import CATALOGUE, find_fault
from agent.practice.homes import HOMES
from agent.practice.line import FaultChoice, Severity
from agent.practice.quiz import (
    NONE,
    OFFERED,
    PARTS,
    Answers,
    Judged,
    candidates,
    chosen,
    draw,
    draw_home,
    fault_of,
    judge,
    part_of,
    quiz_of,
)

MEDIUM = Severity.MEDIUM
PLAIN = {"probes": False, "down_bps": 10**9}
names = st.sampled_from([fault.name for fault in CATALOGUE])
seeds = st.integers(0, 2**32)
plays = st.none() | names.map(lambda name: FaultChoice(name=name))
# The 99.9 % point of a chi-square of 3 degrees of freedom (tables of any handbook of statistics).
CHI_SQUARE_3 = 16.27


def quiz_on(name, seed=1, **more):
    return quiz_of(FaultChoice(name=name), find_fault(name).segment, seed=seed, **more)


def test_without_names_any_fault_or_none_may_come_that_the_visit_can_tell():
    plain = candidates((), MEDIUM, **PLAIN)
    probing = candidates((), MEDIUM, probes=True, down_bps=10**9)
    assert None in plain
    assert {c.name for c in probing if c} == {fault.name for fault in CATALOGUE}
    only_probing = {c.name for c in set(probing) - set(plain)}
    assert only_probing == {fault.name for fault in CATALOGUE if fault.probe}


def test_what_cannot_be_seen_on_the_tier_is_not_drawn():
    """A USB bus of 480 Mbit/s shows from 300 Mbit/s on, as the catalogue says."""
    light = Severity.LIGHT
    slow = candidates((), light, probes=False, down_bps=100_000_000)
    fast = candidates((), light, probes=False, down_bps=1_000_000_000)
    assert {choice.name for choice in set(fast) - set(slow)} >= {"slow-bus"}


def test_named_faults_may_come_each_once_and_none_where_it_is_named():
    among = candidates(("dead-dns", NONE, "dead-dns", "pool-exhausted"), MEDIUM, **PLAIN)
    assert among == (FaultChoice(name="dead-dns"), None, FaultChoice(name="pool-exhausted"))


@pytest.mark.parametrize("text", ["no-such-fault", "lossy-line:dreadful"])
def test_a_fault_that_there_is_not_is_refused_before_anything_is_built(text):
    with pytest.raises(UsageError, match=text.split(":")[-1]):
        candidates((text,), MEDIUM, **PLAIN)


@pytest.mark.parametrize(
    ("text", "severity"),
    [("lossy-line", Severity.LIGHT), ("lossy-line:severe", Severity.SEVERE)],
)
def test_a_fault_strikes_as_hard_as_it_says_itself_or_as_all_do(text, severity):
    assert chosen(text, Severity.LIGHT) == FaultChoice(name="lossy-line", severity=severity)


def test_each_candidate_is_equally_likely_over_the_seeds():
    among = candidates(("lossy-line", "dead-dns", "slow-line", NONE), MEDIUM, **PLAIN)
    drawn = Counter(draw(among, seed) for seed in range(2000))
    even = 2000 / len(among)
    assert sum((drawn[one] - even) ** 2 / even for one in among) < CHI_SQUARE_3


@given(seeds)
def test_a_seed_always_draws_the_same(seed):
    among = candidates((), MEDIUM, probes=True, down_bps=10**9)
    assert draw(among, seed) == draw(among, seed)
    assert draw_home(seed) == draw_home(seed)
    assert draw_home(seed) in HOMES


@given(plays, seeds)
def test_the_truth_is_among_six_choices_and_nothing_wrong_is_the_last_answer(played, seed):
    segment = find_fault(played.name).segment if played else NONE
    quiz = quiz_of(played, segment, seed=seed)
    offered = [fault.name for fault in quiz.choices]
    assert len(set(offered)) == OFFERED
    assert quiz.answers == (*offered, NONE)
    assert played is None or played.name in offered


@given(names, seeds)
def test_no_choice_beside_the_truth_would_be_named_by_one_finding_in_one_place(name, seed):
    truth = find_fault(name)
    for fault in quiz_on(name, seed).choices:
        alike = set(fault.findings) & set(truth.findings) and fault.segment == truth.segment
        assert fault.name == name or not alike


def test_the_place_of_the_true_choice_does_not_tell_it():
    places = Counter(quiz_on("dead-dns", seed).answers.index("dead-dns") for seed in range(300))
    assert set(places) == set(range(OFFERED))


def test_some_choices_lie_in_the_same_part_and_some_elsewhere():
    for seed in range(20):
        segments = Counter(fault.segment for fault in quiz_on("gateway-dead", seed).choices)
        assert segments["home"] >= 3
        assert len(segments) > 1


def test_the_faults_that_a_trainer_named_are_offered():
    named = tuple(FaultChoice(name=name) for name in ("lossy-line", "slow-site", "dead-dns"))
    assert {"slow-site", "dead-dns"} <= set(quiz_on("lossy-line", named=named).answers)


def test_what_needs_another_home_is_not_offered_while_there_is_anything_else():
    quiz = quiz_on("gateway-dead", home="ipv4-only")
    homes = {effect.home for fault in quiz.choices for effect in fault.effects.values()}
    assert homes <= {None, "ipv4-only"}


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("1", "laptop"),
        (" 7\n", "none"),
        ("Access line", "access"),
        ("ACCESS", "access"),
        ("mod", "modem"),
        ("nothing", "none"),
        ("beyond the operator", "beyond"),
        ("0", None),
        ("8", None),
        ("-1", None),
        ("1.5", None),
        ("99999999999999999999", None),
        ("", None),
        ("\n", None),
        ("somewhere", None),
    ],
)
def test_a_part_is_named_by_number_or_word(text, part):
    assert part_of(text) == part


@pytest.mark.parametrize("text", ["lossy-line", "Lossy line", "LOSSYLINE", "lossy", "number"])
def test_a_fault_is_named_by_number_or_word(text):
    quiz = quiz_on("lossy-line")
    text = str(quiz.answers.index("lossy-line") + 1) if text == "number" else text
    assert fault_of(quiz, text) == "lossy-line"


def test_a_word_that_begins_two_answers_names_neither():
    quiz = quiz_on("dns-servfail", named=(FaultChoice(name="dns-without-tcp"),))
    assert fault_of(quiz, "dns-") is None


@given(st.text(max_size=40))
def test_any_text_names_one_of_the_answers_or_none(text):
    assert part_of(text) in (*PARTS, None)
    quiz = quiz_on("dead-dns")
    assert fault_of(quiz, text) in (*quiz.answers, None)


@pytest.mark.parametrize(
    ("played", "answers", "judged"),
    [
        ("dead-dns", ("operator", "dead-dns"), (True, True)),
        ("dead-dns", ("beyond", "dead-dns"), (False, True)),
        ("dead-dns", ("operator", "none"), (True, False)),
        ("dead-dns", (None, None), (None, None)),
        (None, ("none", "none"), (True, True)),
        (None, ("home", "no-lease"), (False, False)),
        ("carrier-nat", ("none", "carrier-nat"), (True, True)),
    ],
)
def test_answers_are_right_wrong_or_not_given(played, answers, judged):
    quiz = quiz_on(played) if played else quiz_of(None, NONE, seed=1)
    given_ = Answers(part=answers[0], fault=answers[1])
    assert judge(quiz, given_) == Judged(part=judged[0], fault=judged[1])
