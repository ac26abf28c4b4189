"""Who names the captive portal API of a line (RFC 8910), and in which order it is believed."""

from types import SimpleNamespace

import pytest

from agent.measurements import LeaseFacts, LeaseProbe, LinkFacts, Medium, Offer
from agent.ports.facts import Interface, ScriptedFacts
from agent.probes.web_access import NamedApi
from agent.session.web_steps import named_api

URL = "https://api.ternbay.example/x"


def site(*, configured=None, held=()):
    link = LinkFacts(interface="lan0", up=True, medium=Medium.WIRED)
    facts = ScriptedFacts(ports=(Interface(link=link),), held={"lan0": held} if held else {})
    targets = SimpleNamespace(captive_api=configured)
    return SimpleNamespace(
        request=SimpleNamespace(settings=SimpleNamespace(targets=targets)),
        workshop=SimpleNamespace(facts=facts),
        ground=SimpleNamespace(interface=SimpleNamespace(name="lan0")),
    )


def offered(url):
    offer = Offer(
        after_ms=1.0,
        server_id=None,
        server_hardware_address=None,
        address="192.0.2.9",
        captive_api=url,
    )
    return LeaseProbe(sent=1, listened_s=6.0, offers=(offer,))


@pytest.mark.parametrize(
    ("leases", "expected"),
    [
        ([], None),
        ([LeaseFacts(family=4, origin="dhcp")], None),
        ([LeaseFacts(family=4, origin="dhcp", captive_api=URL)], NamedApi(url=URL, told_by="dhcp")),
        (
            [LeaseFacts(family=4, origin="dhcp", probe=offered(URL))],
            NamedApi(url=URL, told_by="dhcp"),
        ),
        (
            [
                LeaseFacts(family=4, origin="static"),
                LeaseFacts(family=6, origin="kernel", captive_api=URL),
            ],
            NamedApi(url=URL, told_by="router"),
        ),
    ],
)
def test_the_line_names_its_api(leases, expected):
    assert named_api(site(), leases) == expected


def test_the_operators_own_setting_comes_first():
    lease = LeaseFacts(family=4, origin="dhcp", captive_api="https://other.example/")
    named = named_api(site(configured=URL), [lease])
    assert named == NamedApi(url=URL, told_by="settings")


def test_a_visit_without_a_lease_measurement_reads_the_lease_that_is_held():
    held = (LeaseFacts(family=4, origin="dhcp", captive_api=URL),)
    assert named_api(site(held=held), []) == NamedApi(url=URL, told_by="dhcp")
