"""Several far ends at once: the means in their order, each refusal alone, silence told."""

import pytest

from agent.clock import ManualClock, Timeline
from agent.errors import NoRoute, RightMissing, TimedOut
from agent.measurements import EchoOutcome, Role, StampClock, State
from agent.ports.datagram import Failed, Received, Sent
from agent.ports.running import Unattended
from agent.ports.scripted_datagram import ScriptedSocket, ScriptedWait
from agent.probes.means import UNLIKELY_PORT, WEB_PORT, means_for, paced
from agent.session.several import Aimed, Opened, Rounds, open_all
from agent.session.targets import EchoTarget, port_of_url
from agent.settings.model import EchoPlan

K = StampClock.KERNEL
PLAN = EchoPlan(count=200, interval_s=0.016, waiting_s=1.0)
SWITCHING = PLAN.model_copy(update={"switch_when_silent": True})
GATEWAY = EchoTarget(role=Role.GATEWAY, address="192.0.2.1")
HOP = EchoTarget(role=Role.FIRST_HOP, address="198.51.100.1")
SERVER = EchoTarget(role=Role.SERVER, address="203.0.113.9", connect_port=8642)


def answers(out):
    yield Sent(index=out.index, at_s=out.at_s)
    yield Received(payload=out.payload, at_s=out.at_s + 0.004, clock=K)


def silent(_):
    return ()


class System:
    """A system that lets some means through; `far` says what comes back by which."""

    def __init__(self, *, allowed=("icmp-echo", "udp-unreachable", "tcp-connect"), far=None):
        self.clock = ManualClock(now_s=50.0)
        self.allowed = allowed
        self.far = far or {}
        self.asked = []
        self.sockets = []

    def __call__(self, target):
        self.asked.append((target.role, target.method, target.port))
        if target.method not in self.allowed:
            raise RightMissing(right="to send it", purpose=target.method)
        script = self.far.get((target.role, target.method), answers)
        if target.method == "udp-unreachable" and script is answers:
            script = self.refuses(target.address)
        self.sockets.append(ScriptedSocket(self.clock, script))
        return self.sockets[-1]

    def refuses(self, address):
        def script(out):
            yield Sent(index=out.index, at_s=out.at_s)
            yield Failed(
                icmp_type=3,
                icmp_code=3,
                at_s=out.at_s + 0.004,
                clock=K,
                source=address,
                quoted=out.payload,
            )

        return script

    def run(self, targets, plan=PLAN, load="none", running=None):
        opened = open_all([Aimed(target=t, plan=plan, load=load) for t in targets], self)
        return self.rounds(opened, running)

    def rounds(self, opened, running=None):
        rounds = Rounds(
            opener=self,
            wait=ScriptedWait(self.clock),
            timeline=Timeline(self.clock, 40.0),
            running=running or Unattended(),
        )
        found = rounds.run(opened, 30.0)
        assert all(sock.closed for sock in self.sockets)
        return found


def test_all_are_timed_by_echo_where_the_system_allows_it():
    system = System()
    found = system.run([GATEWAY, HOP, SERVER])
    assert [(m.role, m.method) for m in found] == [
        (Role.GATEWAY, "icmp-echo"),
        (Role.FIRST_HOP, "icmp-echo"),
        (Role.SERVER, "icmp-echo"),
    ]
    assert {len(m.observed.rtt_ms) for m in found} == {200}
    # Side by side: together they take no longer than one.
    assert system.clock.now_s - 50.0 < 1.5 * 200 * 0.016


def test_where_echo_is_refused_the_record_says_by_what_else_each_was_timed():
    system = System(allowed=("udp-unreachable", "tcp-connect"))
    found = system.run([GATEWAY, HOP, SERVER])
    assert [m.method for m in found] == ["udp-unreachable", "udp-unreachable", "tcp-connect"]
    assert {m.state for m in found} == {State.COMPLETE}
    for m in found:
        assert set(m.observed.outcome) == {EchoOutcome.ANSWERED}
        assert m.observed.rtt_ms == pytest.approx((4.0,) * len(m.observed.rtt_ms))
    assert (Role.GATEWAY, "udp-unreachable", UNLIKELY_PORT) in system.asked
    assert (Role.SERVER, "tcp-connect", 8642) in system.asked
    # Paced as each means can bear it.
    assert [len(m.observed.rtt_ms) for m in found] == [5, 5, 64]


def test_where_everything_is_refused_the_reason_is_the_right():
    (found,) = System(allowed=()).run([GATEWAY])
    assert (found.state, found.reason.code) == (State.FAILED, "right-missing")
    assert (found.address, found.family) == ("192.0.2.1", 4)


def test_one_far_end_that_cannot_be_reached_costs_no_other():
    def opener(target):
        if target.role is Role.FIRST_HOP:
            raise NoRoute(address=target.address)
        return system(target)

    system = System()
    opened = open_all([Aimed(target=t, plan=PLAN) for t in (GATEWAY, HOP, SERVER)], opener)
    found = system.rounds(opened)
    assert [m.state for m in found] == [State.COMPLETE, State.FAILED, State.COMPLETE]
    assert found[1].reason.code == "no-route"


def test_a_reflector_that_gives_no_leave_is_an_entry_beside_the_others():
    system = System()
    stamp = EchoTarget(role=Role.SERVER, address="203.0.113.9", method="stamp")
    (near,) = open_all([Aimed(target=GATEWAY, plan=PLAN)], system)
    far = Opened(
        aimed=Aimed(target=stamp, plan=PLAN), error=TimedOut(address="203.0.113.9", after_s=3)
    )
    found = system.rounds([near, far])
    assert [(m.method, m.state) for m in found] == [
        ("icmp-echo", State.COMPLETE),
        ("stamp", State.FAILED),
    ]


QUIET = {(Role.GATEWAY, "icmp-echo"): silent}


def test_a_far_end_that_is_silent_is_said_to_be_and_not_tried_by_other_means():
    system = System(far=QUIET)
    found = system.run([GATEWAY, SERVER])
    assert [(m.role, m.method) for m in found] == [
        (Role.GATEWAY, "icmp-echo"),
        (Role.SERVER, "icmp-echo"),
    ]
    assert found[0].reason.code == "means-silent"
    assert found[0].observed.outcome.count(EchoOutcome.LOST) == 200


def test_where_the_plan_says_so_a_silent_far_end_is_tried_by_the_next_means():
    system = System(far=QUIET | {(Role.GATEWAY, "udp-unreachable"): silent})
    found = system.run([GATEWAY, SERVER], SWITCHING)
    assert [(m.role, m.method) for m in found] == [
        (Role.GATEWAY, "icmp-echo"),
        (Role.SERVER, "icmp-echo"),
        (Role.GATEWAY, "udp-unreachable"),
        (Role.GATEWAY, "tcp-connect"),
    ]
    assert [m.reason and m.reason.code for m in found] == [
        "means-silent",
        None,
        "means-silent",
        None,
    ]
    # The silent series was given up; the plan of the first means is that of the last, paced.
    assert len(found[0].observed.outcome) < 100
    assert len(found[3].observed.outcome) == 64
    assert (Role.GATEWAY, "tcp-connect", WEB_PORT) in system.asked


def may_not_leave(_):
    raise RightMissing(right="to send past local rules", purpose="192.0.2.1")


def test_where_no_echo_may_leave_the_next_means_takes_its_place():
    """A packet filter of the laptop's own: the socket opens, and every send is refused."""
    system = System(far={(Role.GATEWAY, "icmp-echo"): may_not_leave})
    found = system.run([GATEWAY, SERVER])
    assert [(m.role, m.method, m.state) for m in found] == [
        (Role.SERVER, "icmp-echo", State.COMPLETE),
        (Role.GATEWAY, "udp-unreachable", State.COMPLETE),
    ]


def test_where_nothing_may_leave_the_last_refusal_is_the_entry():
    far = {(Role.GATEWAY, method): may_not_leave for method in means_for(Role.GATEWAY)}
    (found,) = System(far=far).run([GATEWAY])
    assert (found.method, found.state) == ("tcp-connect", State.FAILED)
    assert found.reason.code == "right-missing"


def test_a_visit_that_is_stopped_tries_nothing_more():
    class Stopping(Unattended):
        def stopped(self):
            return self.bytes_used > 5000

    system = System(far=QUIET)
    found = system.run([GATEWAY, SERVER], SWITCHING, running=Stopping())
    assert [m.method for m in found] == ["icmp-echo", "icmp-echo"]


def test_under_load_nothing_is_switched():
    found = System(far=QUIET).run([GATEWAY], SWITCHING, load="down")
    assert [m.method for m in found] == ["icmp-echo"]
    assert len(found[0].observed.outcome) == 200


def test_every_role_has_all_means_and_a_server_is_connected_to_first():
    for role in Role:
        assert set(means_for(role)) == {"icmp-echo", "udp-unreachable", "tcp-connect"}
        assert means_for(role)[0] == "icmp-echo"
    assert means_for(Role.SERVER)[1] == "tcp-connect"
    assert means_for(Role.GATEWAY)[1] == "udp-unreachable"


@pytest.mark.parametrize(
    ("method", "count", "interval_s"),
    [("icmp-echo", 200, 0.016), ("udp-unreachable", 5, 1.0), ("tcp-connect", 64, 0.05)],
)
def test_plans_are_paced_as_each_means_can_bear(method, count, interval_s):
    plan = paced(PLAN, method)
    assert (plan.count, plan.interval_s) == (count, interval_s)
    assert plan.waiting_s == PLAN.waiting_s


def test_a_slow_plan_stays_as_it_is():
    slow = EchoPlan(count=3, interval_s=2.0)
    assert paced(slow, "udp-unreachable") == slow


@pytest.mark.parametrize(
    ("url", "port"),
    [
        ("http://server.example:8642/card", 8642),
        ("https://server.example/card", 443),
        ("http://[2001:db8::1]/", 80),
        ("ftp://server.example/file", 21),
        ("", 80),
    ],
)
def test_the_port_of_a_url(url, port):
    assert port_of_url(url) == port


def test_a_target_knows_its_family():
    assert EchoTarget(role=Role.OUTSIDE, address="2001:db8::1").family == 6
    assert GATEWAY.family == 4
