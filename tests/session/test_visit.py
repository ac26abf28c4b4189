"""The course of a visit over scripted means: what was asked is in the record, with a reason."""

from collections import Counter
from dataclasses import replace

import pytest

from agent.clock import ManualClock
from agent.errors import ProberFailed, Refused, RightMissing
from agent.measurements import Kind, LeaseFacts, LinkFacts, Medium, Reason, Role, State
from agent.ports.facts import DefaultWay, HeldAddress, Interface, Load, ScriptedFacts, Way
from agent.ports.http import HttpExchange, ScriptedHttp
from agent.record.model import Reading
from agent.session.assemble import assemble
from agent.session.request import VisitRequest, unwatched
from agent.session.running import VisitRunning
from agent.session.visit import observe
from agent.settings.loader import load, pick_plan, pick_tier
from agent.settings.model import Access, PluggedInto

SETTINGS = load(None, {}, {}).settings


class NoNames:
    """A names port that only knows literal addresses."""

    def query(self, resolver, name, qtype, within_s):
        raise AssertionError(name)

    def resolve(self, name, family, within_s):
        return (name,)


class Workshop:
    """Means on a scripted computer where every socket is refused."""

    frames = None
    frames_reason = "right-missing"

    def __init__(self, facts):
        self.facts = facts

    def names(self, binding, resolvers):
        return NoNames()

    def http(self, binding, names):
        return ScriptedHttp(
            lambda request: HttpExchange(url=request.url, fault=Refused(address=request.url))
        )

    def streams(self, binding, names):
        raise AssertionError("no transfer without a server")

    def probe_socket(self, method, binding, address, port):
        raise RightMissing(right="cap_net_raw", purpose=method)

    def wait_together(self, sockets, timeout_s):
        raise AssertionError("no socket is open")

    def prober(self):
        raise ProberFailed(problem="not here")


def computer(*, up=True, address="192.0.2.20", gateway="192.0.2.1"):
    """Return facts of a laptop with one wired port."""
    held = () if address is None else (HeldAddress(address=address, prefix=24, family=4),)
    ways = () if gateway is None else (DefaultWay(family=4, gateway=gateway),)
    link = LinkFacts(interface="eth0", up=up, medium=Medium.WIRED, speed_bps=1_000_000_000)
    lease = LeaseFacts(family=4, origin="dhcp" if address else "none", address=address)
    return ScriptedFacts(
        ports=(Interface(link=link, addresses=held, ways=ways),),
        held={"eth0": (lease,)},
        routes={"default": Way(interface="eth0")},
    )


def request(**changes):
    """Return a request of the standard plan without web targets or resolvers."""
    asked = {
        "settings": SETTINGS,
        "settings_sha256": "0" * 64,
        "plan": pick_plan(SETTINGS, "standard"),
        "tier": pick_tier(SETTINGS, "Tern Bay 100/20"),
        "access": Access.CABLE,
        "server_url": "http://203.0.113.9:8642/card",
    }
    return VisitRequest(**(asked | changes))


def visited(facts, running=None, **changes):
    """Run a visit and return its request and outcome."""
    asked = request(**changes)
    clock = ManualClock()
    outcome = observe(asked, Workshop(facts), clock, running or VisitRunning(), unwatched)
    return asked, outcome


def reasons(outcome):
    """Return kind to reason codes of what was not complete."""
    return {(m.kind, m.reason.code) for m in outcome.measurements if m.reason is not None}


def test_a_laptop_without_ports_says_so_for_every_kind():
    _, outcome = visited(ScriptedFacts())
    assert reasons(outcome) == {(kind, "no-interface") for kind in Kind}


def test_a_port_without_link_is_itself_measured():
    _, outcome = visited(computer(up=False, address=None))
    states = {m.kind: m.state for m in outcome.measurements}
    assert states[Kind.LINK] is State.COMPLETE
    beyond = {Kind.DNS, Kind.DELAY, Kind.PATH, Kind.HTTP, Kind.REACH, Kind.THROUGHPUT}
    assert {(kind, "interface-down") for kind in beyond} <= reasons(outcome)


def test_without_an_address_port_and_lease_are_still_measured():
    _, outcome = visited(computer(address=None, gateway=None))
    states = {m.kind: m.state for m in outcome.measurements}
    assert states[Kind.LINK] is State.COMPLETE
    assert states[Kind.LEASE] is State.COMPLETE
    beyond = {Kind.DNS, Kind.DELAY, Kind.PATH, Kind.HTTP, Kind.REACH, Kind.THROUGHPUT}
    assert {(kind, "no-address") for kind in beyond} == reasons(outcome)


def test_a_server_that_refuses_is_the_reason_of_what_needs_it():
    _, outcome = visited(computer())
    told = reasons(outcome)
    assert (Kind.THROUGHPUT, "refused") in told
    assert (Kind.PATH, "right-missing") in told
    assert (Kind.DNS, "no-resolver") in told


def test_without_a_server_that_is_the_reason():
    _, outcome = visited(computer(), server_url=None)
    told = reasons(outcome)
    assert {(Kind.PATH, "no-server"), (Kind.THROUGHPUT, "no-server")} <= told


def test_without_listed_ports_and_a_server_that_sees_us_ports_are_left_out():
    _, outcome = visited(computer(), server_url=None)
    (ports,) = (m for m in outcome.measurements if m.kind is Kind.REACH)
    assert (ports.state, ports.reason.code) == (State.SKIPPED, "no-ports")


def test_both_directions_of_a_missing_throughput_are_named():
    _, outcome = visited(computer())
    directions = Counter(m.direction for m in outcome.measurements if m.kind is Kind.THROUGHPUT)
    assert directions == {"down": 1, "up": 1}


def test_what_was_left_out_is_skipped_with_its_reason():
    skips = {Kind.THROUGHPUT: Reason(code="no-consent"), Kind.DNS: Reason(code="not-asked")}
    _, outcome = visited(computer(), skips=skips)
    left = {m.kind: m for m in outcome.measurements if m.state is State.SKIPPED}
    assert left[Kind.THROUGHPUT].reason.code == "no-consent"
    assert left[Kind.DNS].reason.code == "not-asked"


class NobodyAsks(ScriptedFacts):
    def leases(self, interface):
        raise AssertionError(interface)


def test_leases_are_not_read_for_a_portal_that_is_not_asked():
    skips = {kind: Reason(code="not-asked") for kind in (Kind.LEASE, Kind.HTTP)}
    plain = computer()
    _, outcome = visited(NobodyAsks(ports=plain.ports, routes=plain.routes), skips=skips)
    assert [m.kind for m in outcome.measurements].count(Kind.HTTP) == 1


def test_a_stopped_visit_marks_the_rest_and_keeps_what_it_has():
    running = VisitRunning()
    running.stop()
    _, outcome = visited(computer(), running)
    assert outcome.cut_short
    assert any(m.kind is Kind.LINK and m.state is State.COMPLETE for m in outcome.measurements)
    assert (Kind.LEASE, "interrupted") in reasons(outcome)


@pytest.mark.parametrize(
    ("facts", "verdict"),
    [
        pytest.param(ScriptedFacts(), "not-proven", id="no port"),
        pytest.param(computer(up=False), "not-proven", id="no link"),
        pytest.param(computer(address=None, gateway=None), "below", id="no address"),
        pytest.param(computer(), "not-proven", id="no server"),
    ],
)
def test_every_outcome_becomes_a_record_that_meets_nothing(facts, verdict):
    """Missing data proves nothing; that no address was given is itself proven."""
    asked, outcome = visited(facts)
    clock = ManualClock()
    record = assemble(asked, outcome, clock.wall(), clock.wall())
    assert record.assessment.verdict == verdict
    assert {m.measurement.kind for m in record.measured} == set(Kind)
    assert all(m.measurement.reason or m.measurement.observed for m in record.measured)


def test_readings_by_hand_come_into_the_record_as_they_were_asked_for():
    readings = (Reading(where="modem", what="timeouts", value=3.0, unit="count"),)
    asked, outcome = visited(computer(), readings=readings)
    clock = ManualClock()
    record = assemble(asked, outcome, clock.wall(), clock.wall())
    assert record.visit.readings == readings


@pytest.mark.parametrize("system", [None, "Windows"])
def test_a_system_never_tried_is_in_the_record_and_fails_no_line(system):
    bare = replace(computer(address=None, gateway=None), loads=(Load(unverified_system=system),))
    asked, outcome = visited(bare)
    clock = ManualClock()
    record = assemble(asked, outcome, clock.wall(), clock.wall())
    assert record.assessment.verdict == ("below" if system is None else "not-proven")
    assert record.agent.unverified_system == system
    assert {one.unverified_system for one in record.conditions} == {system}


def test_addresses_outside_are_timed_beside_the_others():
    targets = SETTINGS.targets.model_copy(update={"echo": ("198.51.100.80", "2001:db8::80")})
    settings = SETTINGS.model_copy(update={"targets": targets})
    _, outcome = visited(computer(), settings=settings)
    outside = {
        (m.address, m.family): m.reason.code
        for m in outcome.measurements
        if m.kind is Kind.DELAY and m.role is Role.OUTSIDE
    }
    assert outside == {("198.51.100.80", 4): "right-missing", ("2001:db8::80", 6): "right-missing"}


@pytest.mark.parametrize(("family", "gateways"), [("4", 1), ("6", 2), ("both", 2)])
def test_the_gateway_of_ipv6_is_timed_where_the_visit_is_asked_for_it(family, gateways):
    facts = computer()
    port = facts.ports[0]
    ways = (*port.ways, DefaultWay(family=6, gateway="fe80::1"))
    held = (*port.addresses, HeldAddress(address="2001:db8::20", prefix=64, family=6))
    both = replace(facts, ports=(replace(port, ways=ways, addresses=held),))
    _, outcome = visited(both, family=family)
    found = [
        (m.address, m.family)
        for m in outcome.measurements
        if m.kind is Kind.DELAY and m.role.value == "gateway"
    ]
    # The last one is the series of long probes.
    assert found[:-1] == [("192.0.2.1", 4), ("fe80::1", 6)][:gateways]
    assert found[-1] == ("192.0.2.1", 4)


@pytest.mark.parametrize(
    ("plugged", "series"),
    [(PluggedInto.ROUTER, 2), (PluggedInto.UNKNOWN, 2), (PluggedInto.MODEM, 1)],
)
def test_long_probes_go_over_the_homes_own_cable_alone(plugged, series):
    """At the modem the gateway stands at the far end of the line, which long probes would load."""
    _, outcome = visited(computer(), plugged_into=plugged)
    near = [m for m in outcome.measurements if m.role.value == "gateway"]
    assert len(near) == series
