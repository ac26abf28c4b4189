"""Whom the look at both families asks, and what it does where it cannot walk."""

from types import SimpleNamespace

import pytest

from agent.clock import ManualClock, Timeline
from agent.errors import NoRoute
from agent.measurements import FamilyLook, Kind, LinkFacts, Medium, NameOutcome
from agent.ports.binding import Binding
from agent.ports.facts import DefaultWay, HeldAddress, Interface, ScriptedFacts
from agent.ports.http import HttpExchange, ScriptedHttp
from agent.ports.names import NameAnswer
from agent.session.family_steps import family_step, family_targets
from agent.session.ground import Ground
from agent.session.running import VisitRunning
from agent.settings.choose import pick_plan
from agent.settings.loader import load
from agent.settings.model import Server, Targets, WebTarget

SETTINGS = load(None, {}, {}).settings
PAGE = WebTarget(name="tern", url="http://www.tern.example/")


def site(url=None, *, answer=None, walked=None):
    """A laptop with both families, one page, and a server that is reached as `url` says."""
    held = (
        HeldAddress(address="192.0.2.20", prefix=24, family=4),
        HeldAddress(address="2001:db8::20", prefix=64, family=6),
    )
    ways = tuple(DefaultWay(family=family, gateway="fe80::1") for family in (4, 6))
    port = Interface(
        link=LinkFacts(interface="lan0", up=True, medium=Medium.WIRED), addresses=held, ways=ways
    )

    def probe_socket(method, binding, address, port):
        walked.append((method, address))
        raise NoRoute(address=address)

    settings = SETTINGS.model_copy(update={"targets": Targets(web=(PAGE,)), "server": Server()})
    known = {"A": ("192.0.2.9",), "AAAA": ("2001:db8::9",)}
    return SimpleNamespace(
        request=SimpleNamespace(
            settings=settings, server_url=url, plan=pick_plan(SETTINGS, "standard")
        ),
        workshop=SimpleNamespace(
            facts=ScriptedFacts(ports=(port,)), probe_socket=probe_socket, wait_together=None
        ),
        ground=Ground(
            interface=port,
            binding=Binding(interface="lan0", ipv4="192.0.2.20", ipv6="2001:db8::20"),
            gateway="192.0.2.1",
            resolvers=("192.0.2.53",),
        ),
        names=SimpleNamespace(
            query=lambda resolver, name, qtype, within_s: NameAnswer(
                outcome=NameOutcome.ANSWERED, rcode=0, addresses=known[qtype]
            )
        ),
        http=ScriptedHttp(answer),
        timeline=Timeline(ManualClock(), 0.0),
        running=VisitRunning(),
    )


@pytest.mark.parametrize(
    ("url", "asked"),
    [
        (None, ["tern"]),
        ("http://192.0.2.7:8642/card", ["tern"]),
        ("http://[2001:db8::7]:8642/card", ["tern"]),
        ("ftp://files.example/", ["tern"]),
        ("http://doorstep.example:8642/card", ["tern", "server"]),
    ],
)
def test_the_server_is_asked_too_where_it_has_a_name(url, asked):
    assert [target.name for target in family_targets(site(url))] == asked


def test_the_server_gets_no_full_packet_before_its_path_is_searched():
    server = family_targets(site("http://doorstep.example:8642/card"))[-1]
    assert not server.filling


def test_where_the_way_cannot_be_walked_the_look_is_kept_without_it():
    def answer(request):
        reached = {"connect_ms": 5.0, "status": 200} if request.family == 4 else {}
        fault = None if reached else NoRoute(address="far")
        return HttpExchange(url=request.url, fault=fault, **reached)

    walked = []
    step = family_step(site(answer=answer, walked=walked))
    (found,) = step.probe()
    assert step.kind is found.kind is Kind.HTTP
    assert isinstance(found.observed, FamilyLook)
    assert found.observed.walk is None
    assert walked == [("udp-path", "2001:db8::9")]
