"""Looking up names: a scripted resolver on loopback, hostile answers, and time kept."""

import os
import socket
import subprocess
import sys
import threading
from contextlib import contextmanager
from pathlib import Path

import dns.flags
import dns.message
import dns.rcode
import dns.rrset
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.engines.name_messages import read_answer
from agent.engines.names import BoundNames
from agent.errors import NameNotResolved, NoInterface
from agent.measurements import NameOutcome
from agent.ports.binding import Binding

HOME = Binding(ipv4="127.0.0.1")
NAME = "www.tern.example"


def answered(query, *addresses, rcode=0, flags=0, qtype="A", name=NAME):
    reply = dns.message.make_response(query)
    reply.flags |= flags
    reply.set_rcode(rcode)
    if addresses:
        reply.answer.append(dns.rrset.from_text(f"{name}.", 60, "IN", qtype, *addresses))
    return reply.to_wire()


def both_sockets(address, port):
    """Return a datagram socket and a listener on one port, free for both."""
    while True:
        sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        try:
            sock.bind((address, port))
            return sock, socket.create_server((address, sock.getsockname()[1]))
        except OSError:
            sock.close()
            if port:
                raise


@contextmanager
def resolver(script, *, address="127.0.0.1", port=0, tcp=None):
    """Serve datagrams by `script(query) -> iterable of replies`; yields (port, queries seen)."""
    seen = []
    sock, listener = both_sockets(address, port)
    with sock, listener:
        stop = threading.Event()

        def serve():
            while True:
                data, source = sock.recvfrom(4096)
                if stop.is_set():
                    return
                query = dns.message.from_wire(data)
                seen.append((query, source))
                for reply in script(query):
                    sock.sendto(reply, source)

        def serve_tcp():
            conn, _ = listener.accept()
            with conn:
                if tcp is None:
                    return
                size = int.from_bytes(conn.recv(2), "big")
                reply = tcp(dns.message.from_wire(conn.recv(size)))
                conn.sendall(len(reply).to_bytes(2, "big"))
                for at in range(0, len(reply), 7):
                    conn.sendall(reply[at : at + 7])

        threads = [threading.Thread(target=serve), threading.Thread(target=serve_tcp)]
        for thread in threads:
            thread.start()
        try:
            yield sock.getsockname()[1], seen
        finally:
            stop.set()
            where = sock.getsockname()
            with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as waker:
                waker.sendto(b"end", where)
            socket.create_connection(where).close()
            for thread in threads:
                thread.join()


def ask(script, *, within_s=2.0, name=NAME, qtype="A"):
    with resolver(script) as (port, seen):
        answer = BoundNames(HOME, (), port=port).query("127.0.0.1", name, qtype, within_s)
    return answer, seen


@pytest.mark.loopback
def test_an_answer_with_its_time():
    answer, seen = ask(lambda q: [answered(q, "198.51.100.7", "198.51.100.8", flags=dns.flags.AD)])
    assert answer.outcome is NameOutcome.ANSWERED
    assert set(answer.addresses) == {"198.51.100.7", "198.51.100.8"}
    assert (answer.rcode, answer.authenticated, answer.truncated) == (0, True, False)
    assert 0 < answer.rtt_ms < 2000
    query, source = seen[0]
    assert source[0] == "127.0.0.1"
    assert query.flags & dns.flags.RD


@pytest.mark.loopback
def test_identifiers_and_ports_differ_between_queries():
    # RFC 5452 §9.2: unpredictable identifiers and source ports. 20 draws of 16 bits repeat with
    # p = 0.3 %, and never leave fewer than 18 different ones.
    with resolver(lambda q: [answered(q, "198.51.100.7")]) as (port, seen):
        names = BoundNames(HOME, (), port=port)
        for _ in range(20):
            names.query("127.0.0.1", NAME, "A", 2.0)
    assert len({query.id for query, _ in seen}) >= 18
    assert len({source[1] for _, source in seen}) >= 18


@pytest.mark.loopback
@pytest.mark.parametrize(
    ("rcode", "number"), [(dns.rcode.SERVFAIL, 2), (dns.rcode.NXDOMAIN, 3), (dns.rcode.REFUSED, 5)]
)
def test_response_codes(rcode, number):
    # RFC 1035 §4.1.1.
    answer, _ = ask(lambda q: [answered(q, rcode=rcode)])
    assert (answer.outcome, answer.rcode, answer.addresses) == (NameOutcome.ANSWERED, number, ())


def wrong_id(query):
    wire = answered(query, "203.0.113.66")
    return (query.id ^ 1).to_bytes(2, "big") + wire[2:]


def wrong_name(query):
    other = dns.message.make_query("evil.example", "A", id=query.id)
    return answered(other, "203.0.113.66", name="evil.example")


def echoed(query):
    return query.to_wire()


@pytest.mark.loopback
@pytest.mark.parametrize("forged", [wrong_id, wrong_name, echoed, lambda q: b"\xff" * 40])
def test_forged_replies_neither_answer_nor_stop_the_wait(forged):
    answer, _ = ask(lambda q: [forged(q), answered(q, "198.51.100.7")])
    assert (answer.addresses, answer.foreign) == (("198.51.100.7",), 1)
    answer, _ = ask(lambda q: [forged(q)], within_s=0.2)
    assert (answer.outcome, answer.addresses, answer.rtt_ms) == (NameOutcome.MALFORMED, (), None)


@pytest.mark.loopback
def test_an_answer_from_another_port_is_never_read():
    # RFC 5452 §9.1: address and port of the answer must be those asked.
    def elsewhere(query):
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other:
            other.sendto(answered(query, "203.0.113.66"), seen[-1][1])
        return []

    with resolver(elsewhere) as (port, seen):
        answer = BoundNames(HOME, (), port=port).query("127.0.0.1", NAME, "A", 0.3)
    assert (answer.outcome, answer.addresses, answer.foreign) == (NameOutcome.LOST, (), 0)


@pytest.mark.loopback
def test_silence_is_loss():
    answer, seen = ask(lambda q: [], within_s=0.1)
    assert (answer.outcome, answer.rtt_ms, len(seen)) == (NameOutcome.LOST, None, 1)


@pytest.mark.loopback
def test_a_closed_port_refuses():
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.bind(("127.0.0.1", 0))
        port = sock.getsockname()[1]
    answer = BoundNames(HOME, (), port=port).query("127.0.0.1", NAME, "A", 2.0)
    assert answer.outcome is NameOutcome.REFUSED


def in_a_network_of_its_own(*program, user="1000"):
    plain = ["-U", f"--map-user={user}", f"--map-group={user}"] if os.geteuid() else []
    done = subprocess.run(
        ["unshare", *plain, "-n", sys.executable, *program],
        cwd=Path(__file__).parents[2],
        env=os.environ | {"PYTHONPATH": "."},
        capture_output=True,
        text=True,
        timeout=20,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


NO_WAY = f"""
from agent.engines.names import BoundNames
from agent.ports.binding import Binding

print(BoundNames(Binding(), ()).query("192.0.2.53", {NAME!r}, "A", 0.5).outcome)
"""


@pytest.mark.lab
def test_no_way_is_unreachable(require_lab):
    assert in_a_network_of_its_own("-c", NO_WAY) == "unreachable"


@pytest.mark.lab
@pytest.mark.once
def test_a_link_local_resolver_is_asked_over_its_own_link(require_lab):
    # RFC 8106 §5.1: routers may announce resolvers by addresses that hold on the link only.
    program = str(Path(__file__).with_name("link_local_resolver.py"))
    found = in_a_network_of_its_own(program, user="0").split()
    assert found == ["198.51.100.7"] * 2


def test_a_missing_interface_is_no_outcome():
    with pytest.raises(NoInterface):
        BoundNames(Binding(interface="absent0"), ()).query("127.0.0.1", NAME, "A", 0.1)


@pytest.mark.parametrize("name", ["a" * 64 + ".example", "a..example", "x." * 130])
def test_impossible_names_are_not_sent(name):
    # RFC 1035 §2.3.4: labels of 63 and names of 255 octets at most.
    with pytest.raises(NameNotResolved):
        BoundNames(HOME, ("127.0.0.1",)).query("127.0.0.1", name, "A", 0.1)


def test_a_resolver_is_never_a_name():
    with pytest.raises(NameNotResolved):
        BoundNames(HOME, ()).query("localhost", NAME, "A", 0.1)


@pytest.mark.parametrize(
    ("name", "family"), [("192.0.2.1", 4), ("2001:db8::1", 6), ("fe80::1%eth0", 6)]
)
def test_literal_addresses_pass_through(name, family):
    names = BoundNames(HOME, ())
    assert names.resolve(name, family, 1.0) == (name,)
    with pytest.raises(NameNotResolved):
        names.resolve(name, 10 - family, 1.0)


@pytest.mark.loopback
def test_a_dead_first_resolver_costs_its_share_only():
    with (
        resolver(lambda q: [], address="127.0.0.2") as (port, silent),
        resolver(lambda q: [answered(q, "198.51.100.7")], port=port) as (_, asked),
    ):
        names = BoundNames(HOME, ("127.0.0.2", "127.0.0.1"), port=port)
        assert names.resolve(NAME, 4, 1.2) == ("198.51.100.7",)
    assert (len(silent), len(asked)) == (1, 1)


@pytest.mark.loopback
def test_a_lost_answer_is_asked_for_again():
    replies = iter([[], ["198.51.100.7"]])
    with resolver(lambda q: [answered(q, a) for a in next(replies)]) as (port, seen):
        found = BoundNames(HOME, ("127.0.0.1",), port=port).resolve(NAME, 4, 0.6)
    assert (found, len(seen)) == (("198.51.100.7",), 2)


@pytest.mark.loopback
@pytest.mark.parametrize(
    ("rcode", "problem"), [(3, "no such name"), (0, "no IPv4 address"), (2, "SERVFAIL")]
)
def test_what_a_name_lacks_is_said(rcode, problem):
    with (
        resolver(lambda q: [answered(q, rcode=rcode)]) as (port, _),
        pytest.raises(NameNotResolved) as caught,
    ):
        BoundNames(HOME, ("127.0.0.1",), port=port).resolve(NAME, 4, 1.0)
    assert problem in caught.value.fields["problem"]


def test_a_line_without_resolvers_says_so():
    with pytest.raises(NameNotResolved) as caught:
        BoundNames(HOME, ()).resolve(NAME, 4, 1.0)
    assert "no resolver" in caught.value.fields["problem"]


@pytest.mark.loopback
def test_a_cut_answer_is_fetched_over_tcp():
    # RFC 1035 §4.2.1: TC says that the rest is to be had over TCP; §4.2.2: length before message.
    with resolver(
        lambda q: [answered(q, flags=dns.flags.TC)], tcp=lambda q: answered(q, "198.51.100.7")
    ) as (port, _):
        names = BoundNames(HOME, ("127.0.0.1",), port=port)
        assert names.query("127.0.0.1", NAME, "A", 1.0).truncated is True
        assert names.resolve(NAME, 4, 3.0) == ("198.51.100.7",)


@pytest.mark.loopback
def test_ipv6_addresses():
    with resolver(lambda q: [answered(q, "2001:db8::7", qtype="AAAA")]) as (port, _):
        found = BoundNames(HOME, ("127.0.0.1",), port=port).resolve(NAME, 6, 1.0)
    assert found == ("2001:db8::7",)


@pytest.mark.loopback
def test_the_name_of_an_address():
    # RFC 1035 §3.5: the name stands under in-addr.arpa, octets reversed.
    asked = "7.100.51.198.in-addr.arpa"
    with resolver(lambda q: [answered(q, "edge1.ternbay.example.", qtype="PTR", name=asked)]) as (
        port,
        _,
    ):
        found = BoundNames(HOME, ("127.0.0.1",), port=port).query("127.0.0.1", asked, "PTR", 1.0)
    assert (found.names, found.addresses) == (("edge1.ternbay.example",), ())


QUESTION = dns.message.make_query(NAME, "A", id=1)
VALID = answered(QUESTION, "198.51.100.7")


@given(st.binary(max_size=400))
def test_any_bytes_are_an_answer_or_nothing(data):
    assert read_answer(data, QUESTION) is None or data[:2] == b"\x00\x01"


@given(st.lists(st.tuples(st.integers(0, len(VALID) - 1), st.integers(0, 255)), max_size=4))
def test_spoiled_answers_never_break_the_reader(changes):
    data = bytearray(VALID)
    for place, value in changes:
        data[place] = value
    answer = read_answer(bytes(data), QUESTION)
    assert answer is None or len(answer.addresses) <= 16


def test_a_pointer_to_itself_ends():
    # RFC 1035 §4.1.4: a name at offset 12 that points to offset 12.
    data = bytes.fromhex("000181800001000000000000") + b"\xc0\x0c\x00\x01\x00\x01"
    assert read_answer(data, QUESTION) is None


def test_more_addresses_than_anyone_needs_are_cut():
    many = answered(QUESTION, *(f"198.51.100.{n}" for n in range(60)))
    assert len(read_answer(many, QUESTION).addresses) == 16
