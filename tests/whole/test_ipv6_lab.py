"""A visit that is asked for IPv6 proves the line over IPv6, from the lease to the verdict."""

import ipaddress

import pytest
from bent_visits import visit_over_ipv6

pytestmark = [
    pytest.mark.lab,
    pytest.mark.rate,
    pytest.mark.usefixtures("require_lab"),
    pytest.mark.timeout(120),
]

PROVISIONED_BPS = (110_000_000, 22_000_000)
"""1.1 times the tier, as the practice line is shaped, in frames of 1514 octets."""

# 1514 octets of frame less 14 of Ethernet, 40 of IPv6, 20 of TCP, 12 of time stamps (RFC 8200 §3,
# RFC 9293 §3.1, RFC 7323 §3.2).
PAYLOAD_SHARE = 1428 / 1514


@pytest.fixture(scope="module")
def visit(tmp_path_factory):
    """Visit a healthy line whose server has an IPv6 address."""
    return visit_over_ipv6(tmp_path_factory.mktemp("reports"))


def measured(record, kind, role="server"):
    return [m for m in record["measurements"] if (m["kind"], m["role"]) == (kind, role)]


def test_the_line_meets_its_tier(visit):
    code, record = visit
    assert (code, record["assessment"]["verdict"]) == (0, "meets")


@pytest.mark.parametrize("kind", ["delay", "path", "throughput"])
def test_what_is_measured_to_the_server_goes_over_ipv6(visit, kind):
    found = measured(visit[1], kind)
    assert found
    assert {m["state"] for m in found} == {"complete"}
    assert {m["family"] for m in found} == {6}


def test_goodput_is_that_of_the_headers_of_ipv6(visit):
    rates = {m["direction"]: m["statistics"] for m in measured(visit[1], "throughput")}
    for way, shaped_bps in zip(("down", "up"), PROVISIONED_BPS, strict=True):
        assert rates[way]["goodput_bps"] == pytest.approx(shaped_bps * PAYLOAD_SHARE, rel=0.01)


def test_no_probe_is_lost_and_each_way_is_known(visit):
    (idle,) = (
        m["statistics"]
        for m in measured(visit[1], "delay")
        if m["observed"]["load"] == "none" and m["method"] == "stamp"
    )
    assert (idle["loss_ratio"], idle["forward_loss_ratio"]) == (0, 0)


def test_the_walk_reaches_the_server_through_routers_of_the_line(visit):
    (walk,) = measured(visit[1], "path")
    known = visit[1]["private"]["addresses"]
    found = [known[a] for hop in walk["statistics"]["hops"] for a in hop["addresses"]]
    assert walk["statistics"]["reached"]
    assert found
    assert all(ipaddress.ip_address(a) in ipaddress.ip_network("2001:db8::/32") for a in found)


def test_the_largest_packet_is_that_of_the_link(visit):
    (walk,) = measured(visit[1], "path")
    assert walk["statistics"]["path_mtu_bytes"] == 1500
