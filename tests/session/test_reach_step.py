"""What the step of ports is given: an address in a shared family, and both ends of the card."""

from types import SimpleNamespace

import pytest

from agent.clock import ManualClock, Timeline
from agent.codec.card import Seen
from agent.errors import CannotMeasure, NameNotResolved, NoAddress
from agent.measurements import Kind, ReachOutcome
from agent.ports.binding import Binding
from agent.ports.reach import ReachAnswer, ScriptedReach
from agent.session.ground import Ground
from agent.session.reach_steps import reach_step, resolved, server_ends
from agent.session.running import VisitRunning
from agent.settings.choose import pick_plan
from agent.settings.loader import load
from agent.settings.model import PortCheck, Server, Targets

SETTINGS = load(None, {}, {}).settings
KNOWN = {("mail.example", 4): "192.0.2.80", ("mail.example", 6): "2001:db8::80"}
KNOWN |= {("six.example", 6): "2001:db8::81"}
MAIL = PortCheck(name="mail", host="mail.example", port=587)


def resolve(host, family, within_s):
    if (host, family) not in KNOWN:
        raise NameNotResolved(name=host, problem="no such name")
    return (KNOWN[host, family],)


def open_everywhere(order):
    return ReachAnswer(outcome=ReachOutcome.OPEN)


def site(*checks, family="both", ipv4="192.0.2.20", ipv6="2001:db8::20", url=None):
    settings = SETTINGS.model_copy(
        update={"targets": Targets(ports=checks), "server": Server(card=url)}
    )
    reach = ScriptedReach(ManualClock(), open_everywhere)
    return SimpleNamespace(
        request=SimpleNamespace(
            settings=settings,
            server_url=url,
            family=family,
            plan=pick_plan(SETTINGS, "standard"),
        ),
        workshop=SimpleNamespace(reach=lambda binding: reach),
        ground=Ground(
            interface=SimpleNamespace(name="lan0"),
            binding=Binding(interface="lan0", ipv4=ipv4, ipv6=ipv6),
            gateway="192.0.2.1",
            resolvers=(),
        ),
        names=SimpleNamespace(resolve=resolve),
        timeline=Timeline(ManualClock(), 0.0),
        running=VisitRunning(),
        reach=reach,
    )


def card(seen, answer_port=8650):
    return SimpleNamespace(seen=Seen(address=seen, port=40_000), answer_port=answer_port)


@pytest.mark.parametrize(
    ("host", "changes", "address"),
    [
        ("mail.example", {}, "192.0.2.80"),
        ("mail.example", {"family": "6"}, "2001:db8::80"),
        ("mail.example", {"ipv4": None}, "2001:db8::80"),
        ("six.example", {}, "2001:db8::81"),
    ],
)
def test_a_host_is_tried_in_a_family_that_both_speak(host, changes, address):
    assert resolved(site(**changes), host) == address


@pytest.mark.parametrize(
    ("host", "changes", "error"),
    [
        ("gone.example", {}, NameNotResolved),
        ("six.example", {"ipv6": None}, NameNotResolved),
        ("mail.example", {"ipv4": None, "ipv6": None}, NoAddress),
    ],
)
def test_without_one_the_reason_is_given(host, changes, error):
    with pytest.raises(CannotMeasure) as caught:
        resolved(site(**changes), host)
    assert isinstance(caught.value, error)


@pytest.mark.parametrize(
    ("seen", "own"), [("203.0.113.77", "192.0.2.20"), ("2001:db8::20", "2001:db8::20")]
)
def test_what_the_card_saw_is_held_against_the_laptops_end_of_the_same_family(seen, own):
    ends = server_ends(site(url="http://203.0.113.9:8642/card"), "203.0.113.9", card(seen))
    assert (ends.own, ends.seen_address, ends.seen_port) == (own, seen, 40_000)
    assert (ends.card_port, ends.answer_port) == (8642, 8650)


def test_the_step_tries_the_listed_ports_and_those_that_tell_how_they_see_us():
    place = site(MAIL, url="http://203.0.113.9:8642/card")
    (found,) = reach_step(place, "203.0.113.9", card("203.0.113.77")).probe()
    tried = {(order.address, order.port, order.asks) for order in place.reach.orders}
    assert tried == {("192.0.2.80", 587, False), ("203.0.113.9", 8650, True)}
    assert found.kind is Kind.REACH
    assert found.observed.card_address == "203.0.113.77"


def test_without_ports_and_card_there_is_no_step():
    assert reach_step(site(), "203.0.113.9", None) is None
