"""DHCPv6 against RFC 8415, and scapy as another coder; values of §7.6, §15 from the vectors."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scapy.layers import dhcp6 as s6

from agent.codec import dhcp6, ipv6
from agent.codec.dhcp6 import Association, Lent, MessageType, Option, Status
from agent.errors import MalformedMessage

MAC = bytes.fromhex("02005e100001")
DUID = dhcp6.link_layer_duid(MAC)
SERVER = dhcp6.link_layer_duid(bytes.fromhex("02005e1000fe"))
API = b"https://portal.ternbay.example/api"


def written(*options, kind=MessageType.ADVERTISE):
    message = dhcp6.Dhcp6Message(kind=kind, transaction=7, options=options)
    return dhcp6.decode(dhcp6.encode(message))


def foreign_advertise():
    """Return an ADVERTISE with an address and a delegated prefix that scapy made."""
    address = s6.DHCP6OptIAAddress(addr="2001:db8:1::20", preflft=1800, validlft=3600)
    prefix = s6.DHCP6OptIAPrefix(prefix="2001:db8:100::", plen=56, preflft=7200, validlft=14400)
    parts = (
        s6.DHCP6OptClientId(duid=s6.DUID_LL(lladdr="02:00:5e:10:00:01")),
        s6.DHCP6OptServerId(duid=s6.DUID_LL(lladdr="02:00:5e:10:00:fe")),
        s6.DHCP6OptPref(prefval=255),
        s6.DHCP6OptIA_NA(iaid=1, T1=900, T2=1440, ianaopts=[address]),
        s6.DHCP6OptIA_PD(iaid=1, T1=3600, T2=5760, iapdopt=[prefix]),
        s6.DHCP6OptDNSServers(dnsservers=["2001:db8::53", "2001:db8::54"]),
        s6.DHCP6OptDNSDomains(dnsdomains=["ternbay.example"]),
        s6.DHCP6OptStatusCode(statuscode=0, statusmsg="here you are"),
        s6.DHCP6OptInfoRefreshTime(reftime=60),
    )
    message = s6.DHCP6_Advertise(trid=0xABCDEF)
    for part in parts:
        message /= part
    return bytes(message) + dhcp6.encode_options(((103, API),))


def test_everything_that_another_coder_writes_is_read():
    told = dhcp6.decode(foreign_advertise())
    assert (told.kind, told.transaction, told.preference) == (2, 0xABCDEF, 255)
    assert (told.client_id, told.server_id, told.status) == (DUID, SERVER, Status.SUCCESS)
    lent = Lent(network="2001:db8:1::20", preferred_s=1800, valid_s=3600)
    assert told.addresses == (Association(identity=1, t1_s=900, t2_s=1440, lent=(lent,)),)
    prefix = Lent(network="2001:db8:100::", prefix=56, preferred_s=7200, valid_s=14400)
    assert told.delegations == (Association(identity=1, t1_s=3600, t2_s=5760, lent=(prefix,)),)
    assert told.dns == ("2001:db8::53", "2001:db8::54")
    assert told.domains == ("ternbay.example",)
    assert told.captive_api == API.decode()
    # RFC 8415 §21.23: IRT_MINIMUM 600 s.
    assert told.refresh_s == 600
    assert told.faulty_options == ()


def test_another_coder_reads_the_questions():
    message = s6.DHCP6_Solicit(dhcp6.encode(dhcp6.solicit(0x123456, DUID, 9, 1.5)))
    assert (message.msgtype, message.trid) == (1, 0x123456)
    assert message[s6.DHCP6OptClientId].duid.lladdr == "02:00:5e:10:00:01"
    assert message[s6.DHCP6OptElapsedTime].elapsedtime == 150  # RFC 8415 §21.9: hundredths
    assert (message[s6.DHCP6OptIA_NA].iaid, message[s6.DHCP6OptIA_PD].iaid) == (9, 9)
    assert set(message[s6.DHCP6OptOptReq].reqopts) == {23, 24, 103, 82}
    # RFC 8415 §18.2.1: only with Rapid Commit may a server commit itself at once.
    assert s6.DHCP6OptRapidCommit not in message
    asked = s6.DHCP6_InfoRequest(dhcp6.encode(dhcp6.information_request(1, DUID)))
    assert asked.msgtype == 11
    assert 32 in asked[s6.DHCP6OptOptReq].reqopts  # RFC 8415 §21.23 is asked for
    assert s6.DHCP6OptIA_NA not in asked  # RFC 8415 §18.2.6: no identity association


def test_the_question_travels_to_all_servers_with_a_right_checksum():
    from scapy.layers.inet6 import UDP, IPv6

    data = dhcp6.encode(dhcp6.solicit(1, DUID, 9))
    sent = ipv6.Datagram(
        source_port=dhcp6.CLIENT_PORT, destination_port=dhcp6.SERVER_PORT, data=data
    )
    whole = IPv6(ipv6.encode(ipv6.datagram_packet("fe80::2", dhcp6.ALL_SERVERS, sent)))
    assert (whole.dst, whole[UDP].sport, whole[UDP].dport) == ("ff02::1:2", 546, 547)
    expected = whole[UDP].chksum
    del whole[UDP].chksum
    assert IPv6(bytes(whole))[UDP].chksum == expected
    again = ipv6.decode(bytes(whole))
    assert ipv6.decode_datagram(again.payload).data == data
    # RFC 2464 §7: the last four octets behind 33-33.
    assert ipv6.group_frame_address("ff02::1:2").hex(":") == "33:33:00:01:00:02"


@pytest.mark.parametrize(
    ("value", "lent"),
    [
        # RFC 8415 §21.4: T1 past T2, both above zero, discards the association.
        (dhcp6.encode_association(3, Association(identity=1, t1_s=9, t2_s=5)), None),
        (dhcp6.encode_association(3, Association(identity=1, t1_s=9, t2_s=0)), ()),
        # RFC 8415 §21.6: preferred past valid discards the address.
        (
            dhcp6.encode_association(
                3,
                Association(
                    identity=1, lent=(Lent(network="2001:db8::1", preferred_s=9, valid_s=5),)
                ),
            ),
            (),
        ),
        (bytes(11), None),
        (bytes(12) + b"\0\5\0\x18" + bytes(10), None),
    ],
)
def test_what_clients_discard_is_not_lent(value, lent):
    told = written((Option.IA_NA, value)).addresses
    assert told == () if lent is None else [one.lent for one in told] == [lent]


def test_a_prefix_of_more_than_128_bits_is_none():
    inner = dhcp6.encode_options(((26, bytes(8) + bytes((129,)) + bytes(16)),))
    told = written((Option.IA_PD, bytes(12) + inner))
    assert told.delegations == ()
    assert told.faulty_options == (Option.IA_PD,)


@pytest.mark.parametrize(
    ("option", "faulty"),
    [
        ((7, bytes(2)), True),
        ((7, bytes(1)), False),
        ((23, bytes(15)), True),
        ((23, b""), True),
        ((103, b"portal"), True),
        ((103, API), False),
        ((32, bytes(3)), True),
        ((3, bytes(12)), False),
        ((999, b"?"), False),
    ],
)
def test_options_of_another_form_are_named(option, faulty):
    assert written(option).faulty_options == ((option[0],) if faulty else ())


@pytest.mark.parametrize("duid", [b"", b"\0\1", bytes(131)])
def test_a_server_without_an_identifier_of_its_form_has_none(duid):
    """RFC 8415 §11.1: type of two octets, at least one more and at most 128."""
    assert written((Option.SERVER_ID, duid)).server_id is None


@pytest.mark.parametrize(
    ("duid", "written_as"),
    [
        # The forms of RFC 8415 §11.2 to §11.5; that of an enterprise is its figure (from memory).
        ("0001000100000102" + MAC.hex(), "link-layer 258 02:00:5e:10:00:01"),
        ("0003000102005e100001", "link-layer 02:00:5e:10:00:01"),
        ("000200000009" + "0cc084d303000912", "enterprise 000000090cc084d303000912"),
        ("0004" + "ab" * 16, "uuid " + "ab" * 16),
        ("00030006" + "0a" * 6, "link-layer 0006" + "0a" * 6),  # another hardware type
        ("000300010a", "link-layer 00010a"),
        ("00ff01", "type-255 01"),
    ],
)
def test_a_duid_is_written_so_that_its_hardware_address_is_seen(duid, written_as):
    assert dhcp6.duid_text(bytes.fromhex(duid)) == written_as


@pytest.mark.parametrize("data", [b"", b"\2\0\0", b"\2\0\0\0\0", b"\2\0\0\0\0\1\0\2\0"])
def test_broken_frames_of_options_are_refused(data):
    with pytest.raises(MalformedMessage):
        dhcp6.decode(data)


def test_the_number_of_options_is_bounded():
    with pytest.raises(MalformedMessage):
        dhcp6.decode(bytes(4) + b"\0\7\0\0" * 65)


@pytest.mark.parametrize(
    ("again", "first", "longest", "waits"),
    [
        (
            dhcp6.SOLICIT_AGAIN,
            1,
            3600,
            [1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 1024, 2048, 3600, 3600],
        ),
        (dhcp6.INFORMATION_AGAIN, 1, 3600, [1, 2, 4, 8, 16]),
        (dhcp6.REQUEST_AGAIN, 1, 30, [1, 2, 4, 8, 16, 30, 30, 30, 30, 30]),
        (dhcp6.RENEW_AGAIN, 10, 600, [10, 20, 40, 80, 160, 320, 600, 600]),
    ],
)
def test_waits_double_up_to_their_longest(again, first, longest, waits):
    """Figures of RFC 8415 §7.6; waits derived by hand from §15 with RAND = 0."""
    assert (again.first_s, again.longest_s) == (first, longest)
    found = again.waits_s(itertools.repeat(0.0))
    assert list(itertools.islice(found, len(waits))) == waits


def test_a_request_is_sent_ten_times_in_181_seconds():
    """RFC 8415 §7.6: REQ_MAX_RC 10; the sum derived from §15."""
    assert sum(dhcp6.REQUEST_AGAIN.waits_s(itertools.repeat(0.0))) == 181


@given(st.lists(st.floats(-0.1, 0.1), min_size=20, max_size=20))
def test_waits_stay_within_a_tenth_of_their_longest(spread):
    """RFC 8415 §15: RAND between -0.1 and +0.1; above MRT the wait is MRT + RAND*MRT."""
    waits = list(itertools.islice(dhcp6.SOLICIT_AGAIN.waits_s(iter(spread)), 20))
    assert 0.9 <= waits[0] <= 1.1
    assert all(wait <= 3600 * 1.1 for wait in waits)
    assert all(1.9 * a <= b <= 2.1 * a + 1e-9 for a, b in itertools.pairwise(waits) if b < 3240)


lent = st.builds(
    Lent,
    network=st.ip_addresses(v=6).map(str),
    preferred_s=st.integers(0, 1000),
    valid_s=st.integers(1000, 2**32 - 1),
)


@given(
    told=st.builds(
        Association,
        identity=st.integers(0, 2**32 - 1),
        t1_s=st.integers(0, 500),
        t2_s=st.integers(500, 2**32 - 1),
        lent=st.lists(lent, max_size=3).map(tuple),
        status=st.none() | st.sampled_from(Status),
    ),
    code=st.sampled_from([Option.IA_NA, Option.IA_PD]),
)
def test_what_is_written_is_read_again(told, code):
    value = dhcp6.encode_association(code, told)
    assert dhcp6.decode_association(code, value) == told
    assert dhcp6.encode_association(code, told) == value


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(noise):
    try:
        told = dhcp6.decode(noise)
    except MalformedMessage:
        return
    assert dhcp6.encode(told) == noise
    read = (told.addresses, told.delegations, told.dns, told.domains, told.captive_api)
    assert len(read) == 5
    assert set(told.faulty_options) <= {code for code, _ in told.options}
