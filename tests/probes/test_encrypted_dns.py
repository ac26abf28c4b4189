"""Queries to an encrypted resolver: few, one after the other, and none once one is silent."""

import pytest

from agent.clock import ManualClock, Timeline
from agent.errors import NameNotResolved
from agent.measurements import NameOutcome, NameTransport, State
from agent.ports.names import NameAnswer
from agent.ports.running import Unattended
from agent.probes.encrypted_dns import measure_encrypted_dns
from agent.settings.model import DnsPlan, EncryptedResolver

ANSWER = NameAnswer(outcome=NameOutcome.ANSWERED, rtt_ms=9.0, rcode=0, setup_ms=21.0)


class Scripted:
    """Answers in turn; remembers the questions."""

    def __init__(self, *answers):
        self.answers = iter(answers)
        self.asked = []

    def ask(self, question, within_s):
        self.asked.append((question, within_s))
        found = next(self.answers)
        if isinstance(found, Exception):
            raise found
        return found


def measure(*answers, transport="tls", names=("www.tern.example", "shop.tern.example"), **more):
    resolver = EncryptedResolver(
        name="private names", host="dns.ternbay.example", transport=transport, address="192.0.2.53"
    )
    port = Scripted(*answers)
    measured = measure_encrypted_dns(
        port,
        resolver,
        DnsPlan(),
        test_names=names,
        timeline=Timeline.begin(ManualClock()),
        within_s=more.get("within_s", 10.0),
        running=more.get("running", Unattended()),
    )
    return measured, port


@pytest.mark.parametrize("transport", ["tls", "https"])
def test_a_working_one_is_asked_for_the_test_names_in_turn(transport):
    measured, port = measure(ANSWER, ANSWER, ANSWER, transport=transport)
    assert (measured.state, measured.address) == (State.COMPLETE, "192.0.2.53")
    assert measured.method == f"dns-{transport}"
    seen = measured.observed
    assert seen.name == ("www.tern.example", "shop.tern.example", "www.tern.example")
    assert (seen.transport, seen.setup_ms) == (transport, (21.0,) * 3)
    assert {q.transport for q, _ in port.asked} == {NameTransport(transport)}


def test_a_silent_one_is_asked_once():
    silent = NameAnswer(outcome=NameOutcome.UNTRUSTED, problem="expired")
    measured, port = measure(silent)
    assert len(port.asked) == 1
    assert (measured.observed.outcome, measured.observed.problem) == (
        (NameOutcome.UNTRUSTED,),
        ("expired",),
    )


def test_one_whose_own_name_is_not_found_fails_with_that_reason():
    measured, _ = measure(NameNotResolved(name="dns.ternbay.example", problem="no such name"))
    assert (measured.state, measured.reason.code) == (State.FAILED, "name-not-resolved")
    assert measured.observed is None


def test_no_query_begins_that_could_not_be_waited_for():
    measured, port = measure(within_s=1.0)
    assert (measured.state, measured.reason.code, port.asked) == (State.FAILED, "time-limit", [])
