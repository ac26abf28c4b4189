"""Queries to a resolver: one entry each, on a fixed clock, with names that must not exist."""

import threading

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.clock import ManualClock, Timeline
from agent.errors import NoAddress
from agent.measurements import ABSENT_LABEL, NameOutcome, NamePurpose, NameTransport, Role, State
from agent.ports.names import NameAnswer
from agent.ports.running import Unattended
from agent.probes.dns import Target, measure_dns, question_names, series_questions, zone_of
from agent.settings.model import DnsPlan, NameTests

RESOLVER = "192.0.2.53"
ANSWER = NameAnswer(
    outcome=NameOutcome.ANSWERED, rtt_ms=4.0, rcode=0, addresses=("198.51.100.7",), truncated=False
)
LOST = NameAnswer(outcome=NameOutcome.LOST)


class ScriptedNames:
    """Answers by name; remembers every question."""

    def __init__(self, answer):
        self.answer = answer
        self.asked = []
        self.lock = threading.Lock()

    def ask(self, question, within_s):
        with self.lock:
            self.asked.append((question, within_s))
        found = self.answer(question.name)
        if isinstance(found, Exception):
            raise found
        return found


SERIES = DnsPlan(queries=20, interval_s=0.05, checks=False)
WHOLE = DnsPlan(queries=20, interval_s=0.05)
EVERYTHING = NameTests(
    signed="signed.tern.example",
    bogus="bogus.tern.example",
    long="long.tern.example",
    same=("www.tern.example", "shop.tern.example"),
)


def measure(
    answer,
    *,
    plan=SERIES,
    names=("www.tern.example",),
    within_s=10.0,
    running=None,
    tests=None,
):
    port = ScriptedNames(answer)
    target = Target(resolver=RESOLVER, test_names=names, tests=tests or NameTests(), place=1)
    measured = measure_dns(
        port,
        target,
        plan,
        timeline=Timeline.begin(ManualClock()),
        within_s=within_s,
        running=running or Unattended(),
        token=lambda: "0f",
    )
    return measured, port


def test_every_query_has_its_entry_at_its_time():
    lost = "www.tern.example"
    measured, port = measure(lambda name: LOST if name == lost else ANSWER)
    seen = measured.observed
    assert (measured.state, measured.role, measured.address) == (
        State.COMPLETE,
        Role.RESOLVER,
        RESOLVER,
    )
    assert seen.sent_s == pytest.approx([0.05 * i for i in range(20)])
    assert [seen.name.count(n) for n in (lost, "doorstep-absent-0f.tern.example")] == [18, 1]
    assert seen.name[19] == "doorstep-absent-0f.invalid"
    assert [o is NameOutcome.LOST for o in seen.outcome] == [n == lost for n in seen.name]
    assert {len(column) for column in (seen.rtt_ms, seen.rcode, seen.addresses)} == {20}
    assert sorted(q.name for q, _ in port.asked) == sorted(seen.name)
    assert {(q.resolver, q.transport, w) for q, w in port.asked} == {
        (RESOLVER, NameTransport.UDP, 2.0)
    }
    assert seen.place == 1


def test_both_kinds_of_address_are_asked_for_and_absent_names_for_ipv4_only():
    asked = series_questions(RESOLVER, ("a.tern.example", "b.tern.example"), 20, lambda: "0f")
    pairs = {(q.name, q.qtype) for q in asked if not q.name.startswith(ABSENT_LABEL)}
    assert pairs == {(n, t) for n in ("a.tern.example", "b.tern.example") for t in ("A", "AAAA")}
    assert {q.qtype for q in asked if q.name.startswith(ABSENT_LABEL)} == {"A"}


def test_the_standard_plan_can_tell_the_95th_percentile():
    # The largest of 59 bounds it with 95 % confidence: 0.95^59 < 0.05 (order statistics).
    asked = series_questions(RESOLVER, ("a.tern.example",), DnsPlan().queries, lambda: "0f")
    assert sum(not q.name.startswith(ABSENT_LABEL) for q in asked) == 59


def test_checks_stand_half_way_between_the_series_and_disturb_none_of_it():
    measured, _ = measure(lambda _: ANSWER, plan=WHOLE, tests=EVERYTHING)
    seen = measured.observed
    assert seen.sent_s == pytest.approx([0.05 * i for i in range(20)])
    assert [c.sent_s for c in seen.checks] == pytest.approx(
        [0.05 * i + 0.025 for i in range(len(seen.checks))]
    )
    # The longest list ends within 1.5 s, so that a dead resolver is known within 3.5 s.
    assert seen.checks[-1].sent_s < 1.5


def test_every_check_is_repeated_and_asked_in_its_own_form():
    measured, port = measure(lambda _: ANSWER, plan=WHOLE, tests=EVERYTHING)
    count = {p: sum(c.purpose is p for c in measured.observed.checks) for p in NamePurpose}
    thrice = ("extended", "signed", "bogus", "unchecked", "cut", "large")
    assert count == {
        p: 3 if p.value in thrice else 4 if p is NamePurpose.SAME else 2 for p in NamePurpose
    }
    asked = {q for q, _ in port.asked}
    # RFC 6891 §6.2.5 advises 1280 to 1410; 1232 leaves room for both headers in 1280 octets.
    forms = {
        (q.name.partition(".")[0], q.qtype, q.transport.value, q.udp_bytes, q.signatures)
        for q in asked
        if q.udp_bytes or q.transport is NameTransport.TCP
    }
    assert forms == {
        ("www", "A", "tcp", None, False),
        ("www", "A", "udp", 1232, False),
        ("signed", "A", "udp", 1232, True),
        ("bogus", "A", "udp", 1232, True),
        ("long", "TXT", "udp", 1232, False),
        ("long", "TXT", "tcp", None, False),
    }
    assert {q.name for q in asked if q.unchecked} == {"bogus.tern.example"}


def test_a_check_without_a_name_is_left_out():
    measured, _ = measure(lambda _: ANSWER, plan=WHOLE)
    assert {c.purpose for c in measured.observed.checks} == {NamePurpose.TCP, NamePurpose.EXTENDED}


def test_what_a_check_brought_is_kept_whole():
    told = NameAnswer(
        outcome=NameOutcome.ANSWERED,
        rcode=2,
        rtt_ms=3.0,
        size_bytes=90,
        offered_bytes=1232,
        foreign=2,
        truncated=True,
        authenticated=False,
        records=0,
    )
    measured, _ = measure(lambda _: told, plan=WHOLE)
    check = measured.observed.checks[0]
    assert (check.rcode, check.size_bytes, check.offered_bytes, check.foreign) == (2, 90, 1232, 2)
    assert (check.truncated, check.authenticated, check.records) == (True, False, 0)


def test_answers_do_not_hold_up_the_next_query():
    together = threading.Barrier(5)

    def answer(_name):
        together.wait(timeout=10)
        return ANSWER

    measured, _ = measure(
        answer, plan=DnsPlan(queries=5, interval_s=0.5, waiting_s=2.0, checks=False)
    )
    assert len(measured.observed.outcome) == 5


def test_no_query_is_sent_that_could_not_be_waited_for():
    measured, port = measure(lambda _: ANSWER, within_s=2.21)
    # Waiting takes 2 s of 2.21, so queries leave at 0, 0.05, 0.10, 0.15 and 0.20 s.
    assert (measured.state, measured.reason.code) == (State.PARTIAL, "time-limit")
    assert len(measured.observed.sent_s) == len(port.asked) == 5


def test_stopping_keeps_what_was_sent():
    class After(Unattended):
        calls = 0

        def stopped(self):
            self.calls += 1
            return self.calls > 3

    measured, _ = measure(lambda _: ANSWER, running=After())
    assert (measured.state, measured.reason.code) == (State.PARTIAL, "stopped")
    assert len(measured.observed.name) == 3


@pytest.mark.parametrize(
    ("answer", "names", "within_s", "code"),
    [
        (NoAddress(interface="eth0"), ("www.tern.example",), 10.0, "no-address"),
        (ANSWER, (), 10.0, "no-test-names"),
        (ANSWER, ("www.tern.example",), 1.0, "time-limit"),
    ],
)
def test_what_cannot_be_asked_fails_with_its_reason(answer, names, within_s, code):
    measured, _ = measure(lambda _: answer, names=names, within_s=within_s)
    assert (measured.state, measured.reason.code, measured.observed) == (State.FAILED, code, None)


@pytest.mark.parametrize(
    ("name", "zone"),
    [("www.tern.example", "tern.example"), ("tern.example.", "tern.example"), ("tern", "tern")],
)
def test_the_zone_of_a_name_is_no_bare_suffix(name, zone):
    assert zone_of(name) == zone


@given(st.integers(1, 200), st.integers(1, 4))
def test_a_tenth_of_the_names_must_not_exist(count, given_names):
    names = question_names([f"n{i}.tern.example" for i in range(given_names)], count, lambda: "x")
    absent = [name for name in names if name.startswith(ABSENT_LABEL)]
    assert len(names) == count
    assert len(absent) <= count / 10 + 1
    assert len(absent) >= (count > 1)
