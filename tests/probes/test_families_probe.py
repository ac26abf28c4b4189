"""Both families over scripted ports: who is asked for what, and what is kept of it."""

import threading

import pytest

from agent.clock import ManualClock, Timeline
from agent.errors import NameNotResolved, NoRoute, Refused, TimedOut
from agent.measurements import HopWalk, LinkFacts, Medium, Named, NameOutcome, State
from agent.ports.facts import DefaultWay, HeldAddress, Interface
from agent.ports.http import HttpExchange, ScriptedHttp
from agent.ports.names import NameAnswer
from agent.ports.running import Unattended
from agent.probes.families import (
    MOST_TARGETS,
    PADDING_BYTES,
    FamilyTarget,
    families_held,
    measure_families,
)

RESOLVER = "198.51.100.53"
SITES = {
    "one.example": {"A": ("192.0.2.1",), "AAAA": ("2001:db8::1",)},
    "two.example": {"A": ("192.0.2.2",)},
}
TARGETS = tuple(FamilyTarget(name=n.partition(".")[0], url=f"http://{n}/") for n in SITES)
BOTH = ("192.0.2.20", "2001:db8:1::20")


class Names:
    """A resolver made of a table; what it does not know it answers with nothing."""

    def __init__(self, known=SITES, silent=()):
        self.known = known
        self.silent = silent
        self.asked = []

    def query(self, resolver, name, qtype, within_s):
        self.asked.append((resolver, name, qtype))
        if resolver in self.silent or qtype in self.silent:
            return NameAnswer(outcome=NameOutcome.LOST)
        addresses = self.known.get(name, {}).get(qtype, ())
        return NameAnswer(outcome=NameOutcome.ANSWERED, rcode=0, addresses=addresses)


def port(*addresses, families=(4, 6)):
    held = tuple(HeldAddress(address=a, prefix=64, family=6 if ":" in a else 4) for a in addresses)
    ways = tuple(DefaultWay(family=f, gateway="fe80::1") for f in families)
    link = LinkFacts(interface="lan0", up=True, medium=Medium.WIRED)
    return Interface(link=link, addresses=held, ways=ways)


def came(request, **more):
    fields = {"url": request.url, "connect_ms": 9.0, "status": 200, "body": b"x" * 3_000}
    return HttpExchange(**{**fields, **more})


def fault(request, error, **more):
    return HttpExchange(url=request.url, fault=error, **more)


def silence(request, **more):
    return fault(request, TimedOut(address="far", after_s=3.0), **more)


def measure(answer=came, *, names=None, tested=None, others=(), targets=TARGETS, **more):
    tested = tested or port(*BOTH)
    http = ScriptedHttp(answer)
    found = measure_families(
        http,
        names or Names(),
        targets,
        interfaces=(tested, *others),
        tested=tested,
        resolvers=more.pop("resolvers", (RESOLVER,)),
        timeline=Timeline(more.pop("clock", None) or ManualClock(), 0.0),
        within_s=more.pop("within_s", 15.0),
        running=more.pop("running", None) or Unattended(),
        **more,
    )
    return found, http.asked


def by_place(measurement):
    return {(t.target, t.family): t for t in measurement.observed.tries}


def test_each_page_is_asked_for_over_each_family_alone_with_a_request_that_fills_a_packet():
    found, asked = measure()
    assert {(r.url, r.family) for r in asked} == {
        ("http://one.example/", 4),
        ("http://one.example/", 6),
        ("http://two.example/", 4),
    }
    assert {r.padding_bytes for r in asked} == {PADDING_BYTES}
    assert PADDING_BYTES > 1_500
    assert found.state is State.COMPLETE
    assert by_place(found)["two", 6].named is Named.NONE


def test_the_laptop_without_ipv6_asks_for_nothing():
    found, asked = measure(tested=port("192.0.2.20", families=(4,)))
    assert (asked, found.observed.tries, found.observed.held) == ([], (), (4,))


def test_a_laptop_with_ipv6_alone_asks_over_it_alone():
    _, asked = measure(tested=port("2001:db8:1::20", families=(6,)))
    assert {r.family for r in asked} == {6}


@pytest.mark.parametrize(
    ("addresses", "families"),
    [
        (BOTH, (4, 6)),
        (("fe80::20", "169.254.3.4"), ()),
        (("fd00::20", "192.0.2.20"), (4,)),
        (("fe80::20%lan0", "2001:db8::5"), (6,)),
        (("::1", "127.0.0.1"), ()),
    ],
)
def test_only_addresses_for_more_than_the_site_are_held(addresses, families):
    """RFC 4291 §2.5.6 and RFC 3927 §7 stay on the link, RFC 4193 §3.1 on the site."""
    assert families_held(port(*addresses).addresses) == families


def test_an_address_that_may_not_be_used_is_not_held():
    spent = HeldAddress(address="2001:db8::5", prefix=64, family=6, usable=False)
    assert families_held((spent,)) == ()


def test_silence_is_tried_again_with_a_small_request():
    def answer(request):
        return silence(request, connect_ms=9.0) if request.padding_bytes else came(request)

    found, asked = measure(answer)
    told = by_place(found)["one", 6]
    assert (told.connect_ms, told.problem, told.small_status) == (9.0, "timed-out", 200)
    assert {r.method for r in asked if not r.padding_bytes} == {"HEAD"}


def test_what_meets_silence_twice_has_no_connection():
    told = by_place(measure(silence)[0])["one", 6]
    assert (told.connect_ms, told.problem, told.small_status) == (None, "timed-out", None)


@pytest.mark.parametrize(
    ("error", "code"),
    [(NoRoute(address="far"), "no-route"), (Refused(address="far"), "refused")],
)
def test_a_plain_refusal_is_not_tried_again(error, code):
    found, asked = measure(lambda request: fault(request, error))
    assert by_place(found)["one", 6].problem == code
    assert len(asked) == 3


def unreached(request):
    return came(request) if request.family == 4 else silence(request)


def test_the_way_is_walked_where_ipv6_alone_is_dead():
    walked = []
    way = HopWalk(target="2001:db8::1", protocol="udp", waiting_s=1.0)

    def walk(address):
        walked.append(address)
        return way

    found, _ = measure(unreached, walk=walk)
    assert walked == ["2001:db8::1"]
    assert found.observed.walk is way


@pytest.mark.parametrize(
    ("answer", "tested"),
    [
        (came, None),
        (silence, None),
        (unreached, port(*BOTH, families=(4,))),
        (unreached, port("2001:db8:1::20")),
    ],
    ids=["sound", "both dead", "no route", "no IPv4"],
)
def test_elsewhere_nothing_is_walked(answer, tested):
    walked = []
    measure(answer, tested=tested, walk=walked.append)
    assert walked == []


def test_the_time_of_an_attempt_is_without_its_look_up():
    clock = ManualClock()

    def slow(request):
        clock.sleep(0.5)
        return came(request, lookup_ms=400.0)

    page = FamilyTarget(name="page", url="http://[2001:db8::9]/")
    found, _ = measure(slow, targets=(page,), clock=clock)
    assert by_place(found)["page", 6].took_ms == pytest.approx(100.0)


def test_the_next_resolver_is_asked_where_one_is_silent():
    names = Names(silent=("192.0.2.53",))
    found, _ = measure(names=names, resolvers=("192.0.2.53", RESOLVER))
    assert by_place(found)["one", 6].named is Named.GIVEN


def test_a_resolver_that_answers_for_ipv4_alone_is_told():
    found, _ = measure(names=Names(silent=("AAAA",)))
    assert by_place(found)["one", 6].named is Named.SILENT
    assert by_place(found)["one", 4].named is Named.GIVEN


def test_a_name_that_cannot_be_asked_is_silence_too():
    class Refusing(Names):
        def query(self, resolver, name, qtype, within_s):
            raise NameNotResolved(name=name, problem="no valid name")

    found, asked = measure(names=Refusing())
    assert asked == []
    assert {t.named for t in found.observed.tries} == {Named.SILENT}


def test_a_literal_address_is_tried_over_its_own_family_alone():
    page = FamilyTarget(name="page", url="http://[2001:db8::9]/")
    found, asked = measure(targets=(page,))
    assert [r.family for r in asked] == [6]
    assert by_place(found)["page", 6].named is Named.LITERAL
    assert by_place(found)["page", 4].named is Named.NONE


def test_a_prefix_is_told_where_the_resolver_makes_addresses_up():
    """RFC 7050 §2.2: the name; RFC 6052 §2.1: the prefix."""
    names = Names({**SITES, "ipv4only.arpa": {"AAAA": ("64:ff9b::c000:aa", "64:ff9b::c000:ab")}})
    assert measure(names=names)[0].observed.translation_prefix == "64:ff9b::/96"
    assert measure()[0].observed.translation_prefix is None


def test_a_computer_that_translates_by_itself_is_known_by_its_address():
    """RFC 7335 §4: 192.0.0.0/29."""
    assert measure(others=(port("192.0.0.4"),))[0].observed.translates_itself
    assert not measure(others=(port("192.0.0.170"),))[0].observed.translates_itself


def test_a_target_that_must_not_be_filled_gets_a_small_request():
    server = FamilyTarget(name="server", url="http://one.example/", filling=False)
    _, asked = measure(targets=(server,))
    assert {r.padding_bytes for r in asked} == {0}


def test_settings_with_many_pages_are_bounded():
    many = tuple(FamilyTarget(name=f"p{i}", url="http://one.example/") for i in range(40))
    assert len(measure(targets=many)[1]) == 2 * MOST_TARGETS


def test_all_are_asked_for_at_the_same_time():
    """None of the three answers before all three are there."""
    together = threading.Barrier(3, timeout=10)

    def answer(request):
        together.wait()
        return came(request)

    assert len(measure(answer)[1]) == 3


def test_what_was_moved_is_counted():
    running = Unattended()
    measure(running=running)
    assert running.bytes_used == 3 * (3_000 + PADDING_BYTES)


def test_a_visit_that_stops_asks_for_nothing_more():
    class Stopped(Unattended):
        def stopped(self):
            return True

    found, asked = measure(running=Stopped())
    assert (asked, found.state, found.reason.code) == ([], State.PARTIAL, "stopped")


def test_without_time_nothing_is_asked():
    assert measure(within_s=0.0)[1] == []
