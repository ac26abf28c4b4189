"""How far a stopped port gets: a law over scripted chains, and how much is tried for several."""

from hypothesis import given
from hypothesis import strategies as st

from agent.clock import ManualClock, Timeline
from agent.errors import NameNotResolved
from agent.measurements import ReachOutcome
from agent.ports.reach import ReachAnswer, ScriptedReach
from agent.ports.running import Unattended
from agent.probes.reach import MOST_WALKED, ServerEnds, measure_reach
from agent.settings.model import PortCheck, ReachPlan
from agent.stats.reach import reach_statistics

PLAN = ReachPlan(attempts=1, max_distance=12)


def router(at):
    return f"198.51.100.{at}"


def chain(length, *, stops=0, how=ReachOutcome.SILENT, open_port=443, silent=()):
    """A far end behind `length` routers; that at `stops` passes nothing but `open_port`."""

    def meets(order):
        limit = order.hop_limit or 64
        if order.port != open_port and limit > stops:
            return ReachAnswer(outcome=how)
        if limit > length:
            return ReachAnswer(outcome=ReachOutcome.OPEN)
        if limit in silent:
            return ReachAnswer(outcome=ReachOutcome.SILENT)
        return ReachAnswer(outcome=ReachOutcome.EXPIRED, answered_by=router(limit))

    return meets


def tried(script, *checks, resolve=lambda host: host):
    clock = ManualClock()
    reach = ScriptedReach(clock, script)
    found = measure_reach(
        reach,
        checks,
        ServerEnds(),
        PLAN,
        resolve=resolve,
        timeline=Timeline.begin(clock),
        within_s=10.0,
        running=Unattended(),
    )
    return found.observed, reach.orders


def mail(number=1, port=587):
    return PortCheck(name=f"mail {number}", host=f"192.0.2.{number}", port=port)


@given(st.data())
def test_answers_come_from_every_router_up_to_the_one_that_stops_it(data):
    """A router spends the hop before it filters (net/ipv4/ip_forward.c): it answers for itself."""
    length = data.draw(st.integers(1, 11))
    stops = data.draw(st.integers(1, length))
    how = data.draw(st.sampled_from([ReachOutcome.SILENT, ReachOutcome.REFUSED]))
    look, _ = tried(chain(length, stops=stops, how=how), mail())
    (port,) = reach_statistics(look).ports
    assert (port.answers_to, port.others_to, port.reached_at) == (stops, length, length + 1)
    assert port.hops == tuple((router(at),) for at in range(1, length + 1))
    assert port.refused_at == (stops + 1 if how is ReachOutcome.REFUSED else None)


@given(st.sets(st.integers(1, 6)))
def test_a_silent_router_is_never_given_anothers_place(silent):
    look, _ = tried(chain(6, stops=4, silent=silent), mail())
    (port,) = reach_statistics(look).ports
    answering = [at for at in range(1, 5) if at not in silent]
    assert port.answers_to == max(answering, default=None)
    for at, who in enumerate(port.hops, 1):
        assert who == (() if at in silent else (router(at),))


def test_several_blocked_ports_of_a_host_share_what_they_are_compared_with():
    look, orders = tried(chain(4, stops=2), mail(port=587), mail(port=465))
    assert [order.port for order in orders].count(443) == 1 + PLAN.max_distance
    found = reach_statistics(look)
    assert [(port.compared_with, port.answers_to) for port in found.ports] == [(443, 2)] * 2


def test_no_router_is_asked_more_often_than_it_answers_in_a_row():
    """Linux lets six answers to one sender through in a row (net/ipv4/icmp.c, inet_peer.c)."""
    look, _ = tried(chain(4, stops=2), *(mail(port=587 + n) for n in range(12)))
    walked = {a.target for a in look.attempts if a.hop_limit}
    assert len(walked) == MOST_WALKED + 1
    first = [a for a in look.attempts if a.hop_limit == 1]
    assert len(first) == MOST_WALKED + 1


def test_a_name_is_looked_up_once_and_one_without_address_hinders_no_other():
    asked = []

    def resolve(host):
        asked.append(host)
        if host == "192.0.2.2":
            raise NameNotResolved(name=host, problem="no such name")
        return host

    checks = (mail(2), mail(1), mail(1, port=465), mail(2, port=465))
    look, _ = tried(chain(3, stops=3, open_port=587), *checks, resolve=resolve)
    assert sorted(asked) == ["192.0.2.1", "192.0.2.2"]
    found = reach_statistics(look)
    assert [port.outcome for port in found.ports] == ["untried", "open", "filtered", "untried"]
