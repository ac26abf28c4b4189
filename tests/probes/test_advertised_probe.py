"""Routers and servers are heard beside the lease, and every way of not asking has its reason."""

import pytest

from agent.clock import ManualClock, Timeline
from agent.errors import TimedOut
from agent.measurements import (
    AdvertisedProbe,
    AdvertisedRouter,
    AdvertisedView,
    LeaseFacts,
    LeaseProbe,
    LinkFacts,
    Medium,
)
from agent.ports.facts import Interface, ScriptedFacts
from agent.ports.frames import ScriptedFrames, Solicit
from agent.ports.running import Unattended
from agent.probes.lease import measure_lease
from agent.settings.model import Handover, LeasePlan

MAC = "02:00:5e:10:00:01"
API = "https://portal.ternbay.example/api"
LINK = LinkFacts(interface="eth0", up=True, medium=Medium.WIRED, hardware_address=MAC)
FOUR = LeaseFacts(family=4, origin="dhcp", address="192.0.2.30", prefix=24)
SIX = LeaseFacts(family=6, origin="kernel", address="2001:db8::30", prefix=64)
ROUTER = AdvertisedRouter(
    after_ms=3.0,
    address="fe80::1",
    hardware_address=MAC,
    router_lifetime_s=1800,
    managed=False,
    other=False,
    captive_api=API,
)
HEARD = AdvertisedProbe(
    routers_asked=1, servers_asked=3, information_asked=3, listened_s=6.0, routers=(ROUTER,)
)
VIEW = AdvertisedView(received=True, managed=False, other=False)


def leases(frames, held=(FOUR, SIX), handover=Handover.DHCP, **plan):
    port = Interface(link=LINK, advertised=VIEW)
    measured = measure_lease(
        ScriptedFacts(ports=(port,), held={"eth0": held}),
        frames,
        LeasePlan(**plan),
        interface="eth0",
        handover=handover,
        timeline=Timeline.begin(ManualClock()),
        within_s=12.0,
        running=Unattended(),
    )
    return [one.observed for one in measured]


def helper(heard=HEARD):
    return ScriptedFrames(answer=LeaseProbe(sent=1, listened_s=6.0), heard=heard)


def test_what_is_heard_stands_in_the_first_ipv6_entry():
    frames = helper()
    four, six = leases(frames)
    assert (six.advertised, six.advertised_reason, six.advertised_view) == (HEARD, None, VIEW)
    assert (four.advertised, four.advertised_view) == (None, None)
    assert four.probe == LeaseProbe(sent=1, listened_s=6.0)
    assert Solicit(interface="eth0", hardware_address=MAC, listen_s=6.0) in frames.asked


def test_without_an_ipv6_address_it_stands_in_the_first_entry():
    (four,) = leases(helper(), held=(FOUR,))
    assert (four.advertised, four.advertised_view) == (HEARD, VIEW)
    assert four.captive_api is None


def test_the_portal_that_a_router_names_is_the_addresss():
    """RFC 8910 §2.3."""
    assert leases(helper())[1].captive_api == API


@pytest.mark.parametrize(
    ("frames", "more", "reason"),
    [
        (None, {}, "right-missing"),
        (helper(), {"probe": False}, "not-asked"),
        (helper(), {"handover": Handover.PPPOE}, "pppoe-handover"),
        (helper(TimedOut(address="the helper", after_s=9.0)), {}, "timed-out"),
    ],
)
def test_every_way_of_not_asking_has_its_reason(frames, more, reason):
    _, six = leases(frames, **more)
    assert (six.advertised, six.advertised_reason, six.advertised_view) == (None, reason, VIEW)


def test_a_helper_that_fails_to_hear_routers_loses_no_offer():
    four, _ = leases(helper(TimedOut(address="the helper", after_s=9.0)))
    assert four.probe == LeaseProbe(sent=1, listened_s=6.0)
