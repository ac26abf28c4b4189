"""Names of the hops: asked beside everything else, never waited for beyond their time."""

import threading

from agent.clock import ManualClock, SystemClock, Timeline
from agent.errors import NoRoute
from agent.measurements import NameOutcome
from agent.ports.names import NameAnswer
from agent.ports.running import Unattended
from agent.probes.hop_names import MOST_ADDRESSES, NameSearch

RESOLVERS = ("192.0.2.53", "192.0.2.54", "192.0.2.55")
ROUTERS = ("198.51.100.1", "2001:db8::1", "203.0.113.9")


class Pointers:
    """Answers PTR queries from a table of (resolver, question) and keeps what was asked."""

    def __init__(self, answer):
        self.answer = answer
        self.asked = []
        self.lock = threading.Lock()

    def query(self, resolver, name, qtype, within_s):
        with self.lock:
            self.asked.append((resolver, name, qtype))
        found = self.answer(resolver, name)
        if isinstance(found, Exception):
            raise found
        return found

    def resolve(self, name, family, within_s):
        raise AssertionError


def named(*names):
    return NameAnswer(outcome=NameOutcome.ANSWERED, rcode=0, names=names)


LOST = NameAnswer(outcome=NameOutcome.LOST)


def search(answer, addresses=ROUTERS, *, resolvers=RESOLVERS, clock=None, within_s=5.0):
    port = Pointers(answer)
    begun = NameSearch(
        port,
        resolvers,
        addresses,
        timeline=Timeline.begin(clock or ManualClock()),
        within_s=within_s,
        running=Unattended(),
    )
    return begun, port


def test_addresses_are_asked_for_in_the_reverse_trees():
    # RFC 1035 §3.5 and RFC 3596 §2.5, whose example is the address 4321:0:1:2:3:4:567:89ab.
    begun, port = search(
        lambda resolver, name: named(f"{name[:9]}.example"),
        ("10.2.0.52", "4321:0:1:2:3:4:567:89ab", "10.2.0.52"),
    )
    assert dict(begun.found())["10.2.0.52"] == "52.0.2.10.example"
    assert sorted(name for _, name, _ in port.asked) == [
        "52.0.2.10.in-addr.arpa",
        "b.a.9.8.7.6.5.0.4.0.0.0.3.0.0.0.2.0.0.0.1.0.0.0.0.0.0.0.1.2.3.4.ip6.arpa",
    ]
    assert {(resolver, qtype) for resolver, _, qtype in port.asked} == {(RESOLVERS[0], "PTR")}


def test_a_second_resolver_is_asked_where_the_first_is_silent():
    def answer(resolver, name):
        return named("edge.example") if resolver == RESOLVERS[1] else LOST

    begun, port = search(answer, ROUTERS[:1])
    assert begun.found() == ((ROUTERS[0], "edge.example"),)
    assert [resolver for resolver, _, _ in port.asked] == list(RESOLVERS[:2])


def test_an_address_without_a_name_is_asked_for_once():
    begun, port = search(lambda resolver, name: named(), ROUTERS[:1])
    assert begun.found() == ()
    assert len(port.asked) == 1


def test_faults_and_what_is_no_address_leave_the_other_names():
    def answer(resolver, name):
        return NoRoute(address=resolver) if name.startswith("1.100") else named("core.example")

    begun, _ = search(answer, ("198.51.100.1", "", "not an address", "203.0.113.9"))
    assert begun.found() == (("203.0.113.9", "core.example"),)


def test_no_resolver_and_no_address_find_nothing():
    assert search(lambda *_: named("x"), resolvers=())[0].found() == ()
    assert search(lambda *_: named("x"), ())[0].found() == ()


def test_a_resolver_that_hangs_holds_nobody():
    gate = threading.Event()

    def answer(resolver, name):
        if name.startswith("9."):
            gate.wait(30)
        return named("quick.example")

    begun, _ = search(answer, clock=SystemClock(), within_s=0.2)
    try:
        assert {address for address, _ in begun.found()} == set(ROUTERS[:2])
    finally:
        gate.set()


def test_the_number_of_questions_is_bounded():
    many = [f"10.0.{i // 250}.{i % 250}" for i in range(3 * MOST_ADDRESSES)]
    begun, port = search(lambda resolver, name: named("x.example"), many)
    assert len(begun.found()) == len(port.asked) == MOST_ADDRESSES
