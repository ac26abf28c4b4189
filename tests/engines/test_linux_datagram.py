import errno
import socket
import threading

import pytest

from agent.clock import SystemClock, Timeline, unix_ns
from agent.codec.stamp import (
    ReflectorPacket,
    decode_sender,
    encode_reflector,
    ntp_from_unix_ns,
)
from agent.engines.echo_framing import EchoFraming, Unwrapped
from agent.engines.linux_datagram import open_echo_socket, open_path_socket, open_stamp_socket
from agent.engines.linux_refusals import refusal
from agent.engines.waiting import wait_together
from agent.errors import CannotMeasure, NoInterface, NoRoute, NotTaken, RightMissing
from agent.measurements import EchoOutcome, Role, StampClock, State
from agent.ports.binding import Binding
from agent.ports.datagram import Failed, Sent
from agent.ports.running import Unattended
from agent.probes.delay import measure_delay
from agent.probes.path import walk_path
from agent.settings.model import EchoPlan, PathPlan

pytestmark = pytest.mark.loopback

LO = Binding(interface="lo")
PLAN = EchoPlan(count=20, interval_s=0.005, waiting_s=0.5)


@pytest.fixture
def reflector():
    """Answer STAMP packets on loopback, all but sequence number 3."""
    sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    sock.bind(("127.0.0.1", 0))
    sock.settimeout(10)

    def serve():
        while True:
            data, source = sock.recvfrom(2048)
            received_ns = unix_ns()
            if not data:
                return
            sender = decode_sender(data)
            if sender.sequence == 3:
                continue
            packet = ReflectorPacket(
                sequence=sender.sequence,
                timestamp=ntp_from_unix_ns(unix_ns()),
                receive_timestamp=ntp_from_unix_ns(received_ns),
                sender_sequence=sender.sequence,
                sender_timestamp=sender.timestamp,
                sender_ttl=64,
            )
            sock.sendto(encode_reflector(packet, len(data)), source)

    thread = threading.Thread(target=serve)
    thread.start()
    yield sock.getsockname()[1]
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as ender:
        ender.sendto(b"", sock.getsockname())
    thread.join(10)
    sock.close()


@pytest.fixture
def closed_port():
    """Return a UDP port of loopback that nobody listens on, held so that nobody will."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as holder:
        holder.bind(("127.0.0.2", 0))
        yield holder.getsockname()[1]


def measure(sock, **kwargs):
    asked = {
        "timeline": Timeline.begin(SystemClock()),
        "role": Role.SERVER,
        "method": "stamp",
        "address": "127.0.0.1",
        "family": 4,
        "within_s": 20.0,
        "running": Unattended(),
    }
    return measure_delay(sock, PLAN, **asked | kwargs)


def test_stamp_series_over_real_sockets(reflector):
    with open_stamp_socket(LO, "127.0.0.1", reflector) as sock:
        measured = measure(sock)
    outcomes = measured.observed.outcome
    assert measured.state is State.COMPLETE
    assert measured.clock is StampClock.KERNEL
    assert [n for n, o in enumerate(outcomes) if o is not EchoOutcome.ANSWERED] == [3]
    assert all(rtt >= 0 for rtt in measured.observed.rtt_ms if rtt is not None)
    assert measured.observed.clock_steps == 0


def test_a_closed_port_is_named_by_its_host(closed_port):
    with open_stamp_socket(LO, "127.0.0.1", closed_port) as sock:
        measured = measure(sock)
    assert set(measured.observed.outcome) == {EchoOutcome.UNREACHABLE}
    # RFC 792: type 3 code 3, port unreachable.
    assert measured.observed.error_from[0] == (0, "127.0.0.1", "3/3")


def test_each_send_is_stamped_once_and_in_order(reflector):
    with open_stamp_socket(LO, "127.0.0.1", reflector) as sock:
        for _ in range(5):
            sock.send(bytes(44))
        events = []
        while sum(isinstance(event, Sent) for event in events) < 5:
            got = sock.poll(5.0)
            assert got
            events += got
    sent = [event for event in events if isinstance(event, Sent)]
    assert [event.index for event in sent] == [0, 1, 2, 3, 4]
    assert sorted(event.at_s for event in sent) == [event.at_s for event in sent]


def test_errors_between_sends_do_not_fail_the_next_send(closed_port):
    with open_path_socket(LO, "127.0.0.1", closed_port) as sock:
        indexes = [sock.send(bytes([n]) * 20, 5) for n in range(10)]
        failed = []
        while len(failed) < 10:
            got = sock.poll(5.0)
            assert got
            failed += [event for event in got if isinstance(event, Failed)]
    assert indexes == list(range(10))
    assert sorted(event.quoted[0] for event in failed) == list(range(10))
    assert {event.source for event in failed} == {"127.0.0.1"}


@pytest.mark.parametrize(("address", "family"), [("127.0.0.1", 4), ("::1", 6)])
def test_a_walk_of_one_hop(closed_port, address, family):
    try:
        sock = open_path_socket(LO, address, closed_port)
    except CannotMeasure as error:
        pytest.skip(f"no loopback of family {family}: {error}")
    with sock:
        measured = walk_path(
            (sock,),
            PathPlan(),
            wait=wait_together,
            timeline=Timeline.begin(SystemClock()),
            target=address,
            family=family,
            within_s=10,
            running=Unattended(),
        )
    assert set(measured.observed.answered_by) == {address}
    assert set(measured.observed.distance) == {1}
    assert measured.clock is StampClock.KERNEL


def test_echo_to_loopback():
    try:
        sock = open_echo_socket(LO, "127.0.0.1")
    except RightMissing:
        pytest.skip("neither datagram nor raw ICMP is allowed to this user")
    with sock:
        measured = measure(sock, method="icmp-echo", role=Role.GATEWAY)
    assert set(measured.observed.outcome) == {EchoOutcome.ANSWERED}
    assert measured.clock is StampClock.KERNEL


def test_an_interface_that_is_not_there():
    with pytest.raises(NoInterface):
        open_stamp_socket(Binding(interface="nowhere0"), "127.0.0.1", 862)


@pytest.mark.parametrize(
    ("number", "code"),
    [
        (errno.ENODEV, "no-interface"),
        (errno.ENETDOWN, "interface-down"),
        (errno.EADDRNOTAVAIL, "no-address"),
        (errno.ENETUNREACH, "no-route"),
        (errno.EHOSTUNREACH, "no-route"),
        (errno.ECONNREFUSED, "refused"),
        (errno.EPERM, "right-missing"),
        (errno.ENOBUFS, "not-taken"),
    ],
)
def test_refusals_of_the_system_have_their_place_in_the_tree(number, code):
    error = refusal(OSError(number, "text"), binding=LO, address="192.0.2.1")
    assert error.code == code
    assert error.sentence()


def test_an_echo_of_another_program_is_not_ours():
    ours = EchoFraming(family=4, identifier=7, ip_header=True)
    header = bytes([0x45]) + bytes(19)
    request = ours.wrap(65_538, b"data")
    reply = b"\0" + request[1:]
    other = b"\0" + EchoFraming(family=4, identifier=8).wrap(0, b"data")[1:]
    # RFC 792: the sequence number has 16 bits.
    assert ours.unwrap(header + reply) == Unwrapped(b"data", 2)
    assert ours.unwrap(header + request) is None
    assert ours.unwrap(header + other) is None
    assert ours.unwrap(b"") is None
    assert ours.quoted(request) == b"data"


def test_closing_ends_the_socket(reflector):
    sock = open_stamp_socket(LO, "127.0.0.1", reflector)
    sock.close()
    sock.close()
    with pytest.raises(NotTaken):
        sock.send(bytes(44))


class Flaky:
    """A socket whose sends fail as told, as if an ICMP error had come between two calls."""

    def __init__(self, sock, failures):
        self.sock, self.failures = sock, failures

    def __getattr__(self, name):
        return getattr(self.sock, name)

    def send(self, data):
        if self.failures:
            raise OSError(self.failures.pop(), "scripted")
        return self.sock.send(data)


def test_a_send_that_fails_once_is_made_again_and_stamps_stay_with_their_sends(reflector):
    with open_stamp_socket(LO, "127.0.0.1", reflector) as sock:
        sock.send(bytes(44))
        sock._sock = Flaky(sock._sock, [errno.ECONNREFUSED])
        assert [sock.send(bytes(44)), sock.send(bytes(44))] == [1, 2]
        found = set()
        while not found >= {1, 2}:
            got = sock.poll(5.0)
            assert got
            found |= {event.index for event in got if isinstance(event, Sent)}
    assert found <= {0, 1, 2}


def test_a_send_that_keeps_failing_is_a_refusal(reflector):
    with open_stamp_socket(LO, "127.0.0.1", reflector) as sock:
        sock._sock = Flaky(sock._sock, [errno.ENETUNREACH] * 3)
        with pytest.raises(NoRoute):
            sock.send(bytes(44))
        assert sock.send(bytes(44)) == 0
