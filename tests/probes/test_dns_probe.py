"""Queries to a resolver: one entry each, on a fixed clock, with names that must not exist."""

import threading

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.clock import ManualClock, Timeline
from agent.errors import NoAddress
from agent.measurements import ABSENT_LABEL, NameOutcome, Role, State
from agent.ports.names import NameAnswer
from agent.ports.running import Unattended
from agent.probes.dns import measure_dns, question_names, zone_of
from agent.settings.model import DnsPlan

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

    def query(self, resolver, name, qtype, within_s):
        with self.lock:
            self.asked.append((resolver, name, qtype, within_s))
        found = self.answer(name)
        if isinstance(found, Exception):
            raise found
        return found

    def resolve(self, name, family, within_s):
        raise AssertionError


def measure(answer, *, plan=None, names=("www.tern.example",), within_s=10.0, running=None):
    port = ScriptedNames(answer)
    measured = measure_dns(
        port,
        RESOLVER,
        plan or DnsPlan(),
        test_names=names,
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
    assert sorted(n for _, n, _, _ in port.asked) == sorted(seen.name)
    assert {(r, q, w) for r, _, q, w in port.asked} == {(RESOLVER, "A", 2.0)}


def test_answers_do_not_hold_up_the_next_query():
    together = threading.Barrier(5)

    def answer(_name):
        together.wait(timeout=10)
        return ANSWER

    measured, _ = measure(answer, plan=DnsPlan(queries=5, interval_s=0.5, waiting_s=2.0))
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
