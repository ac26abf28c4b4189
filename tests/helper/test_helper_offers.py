"""What the helper keeps of everything it hears."""

import json

from hypothesis import given
from hypothesis import strategies as st

from agent.codec import dhcp
from agent.codec.dhcp import MessageType
from agent.codec.dhcp_options import pack_addresses, pack_seconds
from agent.engines.helper_client import read_answer
from agent.helper.offers import MOST_OFFERS, Hearing

MAC = bytes.fromhex("02005e100001")
SENDER = "02:00:5e:10:00:fe"
ASKED = dhcp.discover(xid=77, hardware_address=MAC)


def offer(*, asked=ASKED, kind=MessageType.OFFER, server="192.0.2.1", address="192.0.2.30", **kw):
    return dhcp.encode(dhcp.reply(asked, kind, server_id=server, address=address, **kw))


def hearing(*payloads):
    found = Hearing(xid=77, hardware_address=MAC)
    for number, payload in enumerate(payloads):
        found.hear(payload, SENDER, float(number))
    return found


def crossed(found, **more):
    """What the agent makes of what the helper heard."""
    form = {
        "sent": 1,
        "listened_s": 6.0,
        "malformed": found.malformed,
        "offers": found.offers,
        "presence_asked": False,
        "naks": found.naks,
        "overheard": found.overheard,
        "probed": [],
        "in_use": [],
    }
    return read_answer(json.dumps({**form, **more}).encode(), "eth0")


def test_an_offer_crosses_the_border_whole():
    options = (
        (51, pack_seconds(3600)),
        (58, pack_seconds(1800)),
        (59, pack_seconds(3150)),
        (1, pack_addresses("255.255.255.0")),
        (3, pack_addresses("192.0.2.1")),
        (6, pack_addresses("192.0.2.53", "198.51.100.53")),
    )
    heard = hearing(offer(options=options))
    (seen,) = crossed(heard).offers
    assert (seen.server_id, seen.server_hardware_address) == ("192.0.2.1", SENDER)
    assert (seen.address, seen.subnet_mask) == ("192.0.2.30", "255.255.255.0")
    assert (seen.lease_s, seen.t1_s, seen.t2_s) == (3600, 1800, 3150)
    assert (seen.routers, seen.dns) == (("192.0.2.1",), ("192.0.2.53", "198.51.100.53"))


def test_two_servers_are_two_offers_and_one_server_is_one():
    found = hearing(offer(), offer(server="192.0.2.2"), offer())
    assert [o["server_id"] for o in found.offers] == ["192.0.2.1", "192.0.2.2"]
    assert [o["after_ms"] for o in found.offers] == [0.0, 1.0]


def test_what_is_not_for_us_is_left_out():
    other_xid = dhcp.discover(xid=78, hardware_address=MAC)
    other_mac = dhcp.discover(xid=77, hardware_address=MAC[::-1])
    found = hearing(
        offer(asked=other_xid),
        offer(asked=other_mac),
        offer(kind=MessageType.ACK),
        offer(kind=MessageType.NAK),
        dhcp.encode(ASKED),
    )
    assert (found.offers, found.malformed) == ([], 0)
    assert found.overheard == ["192.0.2.1"]


def test_refusals_are_told_apart_by_what_they_answer():
    found = Hearing(xid=77, hardware_address=MAC, presence_xid=99)
    said = ((56, b"wrong network"),)
    for xid in (99, 5):
        asked = dhcp.discover(xid=xid, hardware_address=MAC)
        found.hear(offer(asked=asked, kind=MessageType.NAK, options=said), SENDER, float(xid))
    ours, systems = crossed(found, presence_asked=True).naks
    assert (ours.to_system, ours.message, ours.after_ms) == (False, "wrong network", 99.0)
    assert (systems.to_system, systems.server_id) == (True, "192.0.2.1")
    assert crossed(found).presence_asked is False


def test_of_what_is_said_to_others_only_the_server_is_kept():
    neighbour = dhcp.discover(xid=3, hardware_address=MAC[::-1])
    found = hearing(
        offer(asked=neighbour, kind=MessageType.ACK, address="192.0.2.77"),
        *(offer(asked=neighbour, server=f"192.0.2.{n}") for n in range(1, 60)),
    )
    assert found.overheard[0] == "192.0.2.1"
    assert len(found.overheard) == 8
    assert "192.0.2.77" not in json.dumps([found.offers, found.naks, found.overheard])


def test_all_of_an_offer_crosses_the_border():
    options = (
        (121, bytes.fromhex("18c63364c000020100c0000201")),
        (3, pack_addresses("192.0.2.9")),
        (26, (1492).to_bytes(2)),
        (108, pack_seconds(60)),
        (114, b"https://portal.ternbay.example/api"),
        (58, b"\1"),
    )
    (seen,) = crossed(hearing(offer(options=options))).offers
    routes = [(one.network, one.prefix, one.router) for one in seen.routes]
    # RFC 3442: 24.198.51.100 by 192.0.2.1, then the default way by the same.
    assert routes == [("198.51.100.0", 24, "192.0.2.1"), ("0.0.0.0", 0, "192.0.2.1")]
    assert (seen.routes_given, seen.routers) == (True, ("192.0.2.1",))
    assert (seen.mtu_bytes, seen.ipv6_only_s) == (1492, 300)
    assert seen.captive_api == "https://portal.ternbay.example/api"
    assert (seen.faulty_options, seen.t1_s, seen.relay) == ((58,), None, None)


def test_broken_messages_are_counted():
    found = hearing(b"", offer()[:200], offer())
    assert (len(found.offers), found.malformed) == (1, 2)


def test_a_flood_of_offers_is_bounded():
    found = hearing(*(offer(server=f"192.0.2.{n}") for n in range(1, 200)))
    assert len(found.offers) == MOST_OFFERS


@given(st.binary(max_size=80), st.integers(0, 299))
def test_any_bytes_make_an_answer_that_can_be_read(noise, place):
    wire = bytearray(offer(options=((6, pack_addresses("192.0.2.53") * 12),)))
    wire[place : place + len(noise)] = noise
    found = hearing(bytes(wire), noise)
    probe = crossed(found)
    assert all(len(seen.dns) <= 8 for seen in probe.offers)
