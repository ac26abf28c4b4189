"""What the helper keeps of routers and servers, and what crosses the border to the agent."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.clock import ManualClock
from agent.codec import dhcp6, ipv6
from agent.codec import router_advertisement as ra
from agent.codec.dhcp6 import Association, Lent, MessageType, Option
from agent.engines.helper_advertised import advertised_probe
from agent.engines.helper_client import answer_of
from agent.errors import BadReply
from agent.helper import advertised
from agent.helper.advertised_hearing import MOST_ANSWERS, MOST_ROUTERS, AdvertisedHearing
from agent.helper.request import RoutersWanted

MAC = bytes.fromhex("02005e100001")
ROUTER = bytes.fromhex("02005e1000fe")
DUID, SERVER = dhcp6.link_layer_duid(MAC), dhcp6.link_layer_duid(ROUTER)
SERVERS = "33:33:00:01:00:02"
API = "https://portal.ternbay.example/api"
SAID = ra.RouterAdvertisement(
    managed=True,
    preference=ra.Preference.LOW,
    prefixes=(ra.PrefixInfo(network="2001:db8:1::", prefix=64, valid_s=60, preferred_s=30),),
    routes=(ra.RouteInfo(network="2001:db8:9::", prefix=48),),
    mtu_bytes=1492,
    dns=("2001:db8::53",),
    dns_lifetime_s=300,
    domains=("ternbay.example",),
    captive_api=API,
    translator="64:ff9b::/96",
)


def spoken(said=SAID, source="fe80::fe"):
    return ipv6.encode(ra.advertisement(source, said))


def answered(kind=MessageType.ADVERTISE, *, transaction=7, client=DUID, server=SERVER, lent=()):
    options = [(Option.CLIENT_ID, client), (Option.SERVER_ID, server)]
    options += [(Option.DNS, bytes.fromhex("20010db8" + "00" * 11 + "53"))]
    associations = {Option.IA_NA: 128, Option.IA_PD: 56}
    for code, bits in associations.items():
        found = tuple(one for one in lent if one.prefix == bits)
        told = Association(identity=1, t1_s=10, t2_s=16, lent=found, status=None if found else 2)
        options.append((code, dhcp6.encode_association(code, told)))
    message = dhcp6.Dhcp6Message(kind=kind, transaction=transaction, options=tuple(options))
    return in_packet(dhcp6.encode(message))


def in_packet(data, port=dhcp6.CLIENT_PORT):
    sent = ipv6.Datagram(source_port=dhcp6.SERVER_PORT, destination_port=port, data=data)
    return ipv6.encode(ipv6.datagram_packet("fe80::fe", "fe80::1", sent))


def hearing(*bodies, sender=ROUTER):
    found = AdvertisedHearing(client_id=DUID, own=MAC, solicit=7, information=8)
    for number, body in enumerate(bodies):
        found.hear(body, sender, float(number))
    return found


def crossed(found):
    """What the agent makes of what the helper heard."""
    form = {
        "routers_asked": 1,
        "servers_asked": 1,
        "information_asked": 1,
        "listened_s": 6.0,
        "malformed": found.malformed,
        "far": found.far,
        "routers": found.routers,
        "servers": found.servers,
    }
    return answer_of(json.dumps(form).encode(), "eth0", advertised_probe)


def test_a_router_crosses_the_border_whole():
    (seen,) = crossed(hearing(spoken())).routers
    assert (seen.address, seen.hardware_address, seen.after_ms) == ("fe80::fe", ROUTER.hex(":"), 0)
    assert (seen.managed, seen.other, seen.preference) == (True, False, "low")
    (prefix,) = seen.prefixes
    assert (prefix.network, prefix.prefix, prefix.valid_s, prefix.preferred_s) == (
        "2001:db8:1::",
        64,
        60,
        30,
    )
    assert [(r.network, r.prefix) for r in seen.routes] == [("2001:db8:9::", 48)]
    assert (seen.mtu_bytes, seen.dns, seen.dns_lifetime_s) == (1492, ("2001:db8::53",), 300)
    assert (seen.domains, seen.translator) == (("ternbay.example",), "64:ff9b::/96")
    assert crossed(hearing(spoken())).captive_apis == (API,)


def test_a_server_crosses_the_border_whole():
    lent = (
        Lent(network="2001:db8:1::20", preferred_s=20, valid_s=30),
        Lent(network="2001:db8:100::", prefix=56, preferred_s=40, valid_s=50),
    )
    (seen,) = crossed(hearing(answered(lent=lent))).servers
    assert (seen.kind, seen.server_id, seen.preference) == (
        "advertise",
        "link-layer 02:00:5e:10:00:fe",
        0,
    )
    assert [(a.network, a.prefix, a.valid_s) for a in seen.addresses] == [
        ("2001:db8:1::20", 128, 30)
    ]
    assert [(d.network, d.prefix, d.valid_s) for d in seen.delegated] == [
        ("2001:db8:100::", 56, 50)
    ]
    assert (seen.t1_s, seen.t2_s, seen.delegated_t1_s) == (10, 16, 10)
    assert (seen.address_status, seen.delegation_status) == (None, None)
    assert seen.dns == ("2001:db8::53",)


def test_a_server_without_an_address_says_so():
    (seen,) = crossed(hearing(answered())).servers
    assert (seen.addresses, seen.address_status) == ((), 2)  # RFC 8415 §21.13: NoAddrsAvail


@pytest.mark.parametrize(
    "body",
    [
        answered(transaction=9),
        answered(client=dhcp6.link_layer_duid(ROUTER)),  # RFC 8415 §16.3
        answered(server=b""),  # RFC 8415 §16.3
        answered(MessageType.REPLY, transaction=7),  # never asked for: nothing was requested
        answered(MessageType.REQUEST),
        in_packet(b"\2\0\0\7", port=5353),
    ],
)
def test_only_answers_to_our_own_questions_count(body):
    assert hearing(body).servers == []


def test_an_answer_to_the_question_for_resolvers_is_a_reply():
    found = hearing(answered(MessageType.REPLY, transaction=8))
    assert (found.heard("reply"), found.heard("advertise")) == (True, False)


def test_what_comes_from_afar_is_counted_and_left():
    """RFC 4861 §11.2: hop limit 255."""
    far = bytearray(spoken())
    far[7] = 254
    found = hearing(bytes(far), spoken(source="2001:db8::1"))
    assert (found.routers, found.far, found.malformed) == ([], 2, 0)


def test_what_this_port_sent_itself_is_no_answer():
    assert hearing(spoken(), sender=MAC).routers == []


def test_each_counts_once_and_their_number_is_bounded():
    assert len(hearing(spoken(), spoken()).routers) == 1
    many = [spoken(source=f"fe80::{n:x}") for n in range(1, 60)]
    assert len(hearing(*many).routers) == MOST_ROUTERS
    many = [answered(server=bytes((0, 3, 0, 1, n))) for n in range(60)]
    assert len(hearing(*many).servers) == MOST_ANSWERS


def test_many_things_in_one_message_are_cut():
    prefixes = tuple(ra.PrefixInfo(network=f"2001:db8:{n}::", prefix=64) for n in range(40))
    (seen,) = crossed(hearing(spoken(ra.RouterAdvertisement(prefixes=prefixes)))).routers
    assert len(seen.prefixes) == 8


@given(st.binary(max_size=120), st.integers(0, 200), st.sampled_from([spoken(), answered()]))
def test_any_bytes_make_an_answer_that_can_be_read(noise, place, valid):
    wire = bytearray(valid)
    wire[place : place + len(noise)] = noise
    crossed(hearing(bytes(wire), noise))


def test_another_form_is_no_answer():
    with pytest.raises(BadReply):
        answer_of(b'{"routers_asked": true}', "eth0", advertised_probe)


class Port:
    """A port that keeps what was sent, and hears nothing but the time go by."""

    def __init__(self, clock, answers=()):
        self.clock, self.sent, self.answers = clock, [], list(answers)

    def send(self, source, body, destination):
        self.sent.append((self.clock.monotonic_s(), destination.hex(":"), body))

    def receive(self, within_s):
        self.clock.sleep(within_s)
        return (ROUTER, self.answers.pop(0)) if self.answers else None


def exchanged(monkeypatch, *, own="fe80::1", answers=()):
    monkeypatch.setattr(advertised, "link_address", lambda *_: own)
    clock = ManualClock()
    port = Port(clock, answers)
    wanted = RoutersWanted(interface="eth0", hardware_address=MAC, listen_s=6.0)
    return advertised._Exchange(wanted, port, clock).run(), port


def test_silence_is_asked_again_by_the_standards_waits(monkeypatch):
    """RFC 4861 §10: 4 s between solicitations; RFC 8415 §7.6, §15: 1 s, then twice, ±10 %."""
    form, port = exchanged(monkeypatch)
    begun_s = port.sent[0][0]
    routers = [at - begun_s for at, to, _ in port.sent if to == "33:33:00:00:00:02"]
    servers = [at - begun_s for at, to, body in port.sent if (to, body[48]) == (SERVERS, 1)]
    assert form["routers_asked"] == len(routers) == 2
    assert routers == pytest.approx([0, 4], abs=0.11)
    assert form["servers_asked"] == len(servers) == 3
    assert servers == pytest.approx([0, 1, 3], abs=0.6)
    assert form["information_asked"] == 3
    assert form["listened_s"] == pytest.approx(6.0)


def test_who_answered_is_not_asked_again(monkeypatch):
    form, _ = exchanged(monkeypatch, answers=[spoken()])
    assert (form["routers_asked"], len(form["routers"])) == (1, 1)


def test_without_an_address_of_the_link_only_routers_are_asked(monkeypatch):
    """RFC 8415 §7.2 has clients send from an address of the link; RFC 4861 §4.1 allows none."""
    form, port = exchanged(monkeypatch, own=None)
    assert (form["servers_asked"], form["information_asked"]) == (0, 0)
    assert {ipv6.decode(body).source for _, _, body in port.sent} == {"::"}


def test_nothing_that_is_sent_takes_anything(monkeypatch):
    """RFC 8415 §18.2.1: only REQUEST, or Rapid Commit (option 14), binds a server."""
    _, port = exchanged(monkeypatch)
    for _, _, body in port.sent:
        packet = ipv6.decode(body)
        if packet.next_header == ipv6.UDP:
            message = dhcp6.decode(ipv6.decode_datagram(packet.payload).data)
            assert message.kind in (1, 11)
            assert message.option(14) is None


def test_the_address_of_the_link_is_read_from_the_kernels_list(tmp_path):
    """proc(5): address, index, prefix length, scope (20 = link), flags, name."""
    file = tmp_path / "if_inet6"
    file.write_text(
        "00000000000000000000000000000001 01 80 10 80       lo\n"
        "20010db8000100000000000000000020 02 40 00 80     eth0\n"
        "fe80000000000000000000000000000a 03 40 20 80     eth1\n"
        "fe80000000000000000000000000000b 02 40 20 80     eth0\n"
    )
    assert advertised.link_address("eth0", file) == "fe80::b"
    assert advertised.link_address("eth9", file) is None
    assert advertised.link_address("eth0", tmp_path / "none") is None
