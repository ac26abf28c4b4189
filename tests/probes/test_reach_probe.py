"""Attempts on ports over a scripted network: what is tried, and how a stopped port is looked at."""

from agent.clock import ManualClock, Timeline
from agent.errors import NameNotResolved
from agent.measurements import ReachOutcome, State, Transport
from agent.ports.reach import ReachAnswer, ScriptedReach
from agent.ports.running import Unattended
from agent.probes.reach import ServerEnds, measure_reach
from agent.settings.model import PortCheck, ReachPlan

ROUTERS = ("192.0.2.1", "198.51.100.1", "198.51.100.9")
SITE, SERVER = "192.0.2.80", "203.0.113.9"
ENDS = ServerEnds(address=SERVER, card_port=8642, answer_port=8650, seen_address="203.0.113.77")
MAIL = PortCheck(name="mail", host="mail.example", port=587)


class Stopped(Unattended):
    """A visit that was ended."""

    def stopped(self):
        return True


def network(*, stopped_at=None, closed=(), how=ReachOutcome.SILENT):
    """Return a network whose router at a distance stops port 587; `closed` ports are refused."""

    def meets(order):
        limit = order.hop_limit or 64
        stops = stopped_at is not None and order.port == 587
        if stops and limit > stopped_at:
            return ReachAnswer(outcome=how)
        if limit <= len(ROUTERS):
            return ReachAnswer(outcome=ReachOutcome.EXPIRED, answered_by=ROUTERS[limit - 1])
        refused = order.port in closed
        return ReachAnswer(outcome=ReachOutcome.REFUSED if refused else ReachOutcome.OPEN)

    return meets


def measured(script, checks, *, limits_hops=True, running=None, server=ENDS):
    clock = ManualClock()
    reach = ScriptedReach(clock, script, limits_hops=limits_hops)
    found = measure_reach(
        reach,
        checks,
        server,
        ReachPlan(max_distance=8),
        resolve=resolve,
        timeline=Timeline.begin(clock),
        within_s=10.0,
        running=running or Unattended(),
    )
    return found, reach.orders


def resolve(host):
    if host != "mail.example":
        raise NameNotResolved(name=host, problem="no such name")
    return SITE


def attempts(found, number):
    return [a for a in found.observed.attempts if a.target == number]


def test_what_passes_is_tried_once_and_no_closer():
    found, orders = measured(network(), (MAIL, PortCheck(name="server", port=8650)))
    assert [(o.address, o.port, o.hop_limit) for o in orders if o.transport is Transport.TCP] == [
        (SITE, 587, None),
        (SERVER, 8650, None),
    ]
    assert found.state is State.COMPLETE


def test_only_the_servers_answering_port_is_asked_how_it_sees_us():
    _, orders = measured(network(), (MAIL, PortCheck(name="server", port=8650)))
    assert {(o.transport.value, o.address, o.port) for o in orders if o.asks} == {
        ("tcp", SERVER, 8650),
        ("udp", SERVER, 8650),
    }


def test_without_listed_ports_the_servers_view_is_asked_for_all_the_same():
    found, orders = measured(network(), ())
    assert [o.asks for o in orders] == [True, True]
    assert not any(target.listed for target in found.observed.targets)


def test_a_silent_port_is_tried_again_then_walked_to_beside_one_that_passes():
    found, _ = measured(network(stopped_at=2), (MAIL,))
    tries = attempts(found, 0)
    assert [a.hop_limit for a in tries].count(None) == ReachPlan().attempts
    answered = [a.hop_limit for a in tries if a.outcome is ReachOutcome.EXPIRED]
    assert answered == [1, 2]
    walked = {a.target for a in found.observed.attempts if a.hop_limit} - {0}
    (beside,) = (found.observed.targets[n] for n in walked)
    assert (beside.address, beside.port, beside.listed) == (SITE, 443, False)


def test_the_walk_ends_where_the_passing_port_is_reached():
    found, _ = measured(network(stopped_at=1), (MAIL,))
    assert max(a.hop_limit or 0 for a in attempts(found, 0)) == len(ROUTERS) + 1


def test_a_refused_port_is_not_tried_again_but_looked_at():
    script = network(stopped_at=1, how=ReachOutcome.REFUSED)
    found, _ = measured(script, (MAIL,))
    tries = attempts(found, 0)
    assert [a.hop_limit for a in tries].count(None) == 1
    refused = [a.hop_limit for a in tries if a.hop_limit and a.outcome is ReachOutcome.REFUSED]
    assert min(refused) == 2


def test_a_port_that_is_to_be_closed_is_not_looked_at():
    check = PortCheck(name="shut", host="mail.example", port=587, expected="closed")
    found, _ = measured(network(closed=(587,)), (check,))
    assert all(a.hop_limit is None for a in found.observed.attempts)


def test_a_system_that_tells_no_routers_is_spared_the_walk():
    found, _ = measured(network(stopped_at=2), (MAIL,), limits_hops=False)
    assert all(a.hop_limit is None for a in found.observed.attempts)


def test_a_name_without_address_is_told_and_not_tried():
    gone = PortCheck(name="gone", host="gone.example", port=587)
    found, _ = measured(network(), (gone,))
    assert found.observed.targets[0].problem == "name-not-resolved"
    assert not attempts(found, 0)


def test_without_server_its_ports_are_told_and_not_tried():
    found, orders = measured(network(), (PortCheck(name="server", port=1),), server=ServerEnds())
    assert (found.observed.targets[0].problem, orders) == ("no-server", [])


def test_a_visit_that_was_ended_is_partial():
    found, orders = measured(network(), (MAIL,), running=Stopped())
    assert (found.state, found.reason.code, orders) == (State.PARTIAL, "stopped", [])
