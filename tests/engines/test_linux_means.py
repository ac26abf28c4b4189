"""The means of echo that need no right, over real sockets of loopback, in both families."""

import select
import socket
from contextlib import contextmanager

import pytest

from agent.clock import SystemClock, Timeline
from agent.engines import linux_connect_socket, linux_stamping
from agent.engines.linux_ancillary import SO_TIMESTAMPNS
from agent.engines.linux_datagram import (
    OPENERS,
    open_connect_socket,
    open_unreachable_socket,
)
from agent.engines.linux_stamping import await_stamping
from agent.engines.waiting import wait_together
from agent.errors import CannotMeasure, NoInterface, RightMissing
from agent.measurements import EchoOutcome, Role, StampClock
from agent.ports.binding import Binding
from agent.ports.datagram import Failed, Received
from agent.ports.running import Unattended
from agent.probes.delay import DelaySeries, measure_delays
from agent.probes.means import open_first
from agent.settings.model import EchoPlan

pytestmark = pytest.mark.loopback

LO = Binding(interface="lo")
HERE = {4: "127.0.0.1", 6: "::1"}
FAMILIES = {4: socket.AF_INET, 6: socket.AF_INET6}
FAST = EchoPlan(count=10, interval_s=0.005, waiting_s=0.5)


@pytest.fixture(params=[4, 6], ids=["IPv4", "IPv6"])
def family(request):
    """Return a family that loopback has."""
    try:
        with socket.socket(FAMILIES[request.param], socket.SOCK_DGRAM) as sock:
            sock.bind((HERE[request.param], 0))
    except OSError as error:
        pytest.skip(f"no loopback of this family: {error}")
    return request.param


@contextmanager
def held(kind, family, *, listen=False):
    """Yield a port of loopback that this test holds, so that nobody else listens there."""
    with socket.socket(FAMILIES[family], kind) as sock:
        sock.bind((HERE[family], 0))
        if listen:
            sock.listen(64)
        yield sock.getsockname()[1]


def series(sock, family, method, plan=FAST, role=Role.GATEWAY):
    return DelaySeries(
        socket=sock, plan=plan, role=role, method=method, address=HERE[family], family=family
    )


def measured(*asked):
    return measure_delays(
        asked,
        wait_together,
        timeline=Timeline.begin(SystemClock()),
        within_s=20.0,
        running=Unattended(),
    )


def heard(sock, wanted):
    """Poll until an event of the wanted kind came; return all."""
    events = []
    while not any(isinstance(event, wanted) for event in events):
        got = sock.poll(5.0)
        assert got
        events += got
    return events


def test_a_connection_that_is_accepted_is_timed_by_the_kernel(family):
    with held(socket.SOCK_STREAM, family, listen=True) as port:
        sock = open_connect_socket(LO, HERE[family], port)
        (found,) = measured(series(sock, family, "tcp-connect"))
        sock.close()
    assert set(found.observed.outcome) == {EchoOutcome.ANSWERED}
    assert found.clock is StampClock.KERNEL
    assert all(0 < rtt < 100 for rtt in found.observed.rtt_ms)


def test_a_connection_that_is_reset_is_an_answer_timed_by_this_program(family):
    with held(socket.SOCK_STREAM, family) as port:
        sock = open_connect_socket(LO, HERE[family], port)
        (found,) = measured(series(sock, family, "tcp-connect"))
        sock.close()
    assert set(found.observed.outcome) == {EchoOutcome.ANSWERED}
    assert found.clock is StampClock.USER


def test_an_accepted_connection_is_dropped_at_once_and_carries_nothing():
    with socket.create_server(("127.0.0.1", 0)) as server:
        sock = open_connect_socket(LO, "127.0.0.1", server.getsockname()[1])
        sock.send(b"payload")
        (answer,) = (e for e in heard(sock, Received) if isinstance(e, Received))
        peer, _ = server.accept()
        with peer, pytest.raises(ConnectionResetError):
            peer.recv(100)
        sock.close()
    assert answer.payload == b"payload"


def test_connections_that_nobody_answers_are_dropped_before_tcp_repeats_them(monkeypatch):
    with socket.socket() as sock:
        # A backlog of none: the second and later connections are left without an answer.
        sock.bind(("127.0.0.1", 0))
        sock.listen(0)
        connect = open_connect_socket(LO, "127.0.0.1", sock.getsockname()[1])
        for _ in range(4):
            connect.send(b"")
        while connect.poll(0.2):
            pass
        assert connect._attempts
        monkeypatch.setattr(linux_connect_socket, "REPEATS_S", 0.0)
        connect.poll(0.0)
        assert not connect._attempts
        connect.close()


def test_a_connection_that_the_system_does_not_begin_is_its_refusal():
    with pytest.raises(NoInterface):
        open_connect_socket(Binding(interface="nowhere0"), "127.0.0.1", 80).send(b"")
    # RFC 1122 §4.2.3.10 (from memory): TCP opens nothing towards a broadcast address.
    with pytest.raises(CannotMeasure):
        open_connect_socket(Binding(ipv4="127.0.0.1"), "255.255.255.255", 80).send(b"")


def test_a_closed_connect_socket_is_closed_twice_without_harm():
    sock = open_connect_socket(LO, "127.0.0.1", 9)
    sock.close()
    sock.close()


def test_a_refused_datagram_is_an_answer_stamped_by_the_kernel(family):
    with held(socket.SOCK_DGRAM, family) as port:
        sock = open_unreachable_socket(LO, HERE[family], free_beside(port, family))
        (found,) = measured(series(sock, family, "udp-unreachable"))
        sock.close()
    answered = found.observed.outcome.count(EchoOutcome.ANSWERED)
    assert answered >= 5, "Linux answers six at once and then limits"
    assert found.clock is StampClock.KERNEL
    assert found.observed.answers_limited


def free_beside(port, family):
    """Return a UDP port near another one on which nobody listens just now."""
    for candidate in (port + 1, port - 1, port + 2):
        with socket.socket(FAMILIES[family], socket.SOCK_DGRAM) as sock:
            try:
                sock.bind((HERE[family], candidate))
            except OSError:
                continue
            return candidate
    pytest.skip("no port beside is free")


def test_several_means_and_families_run_in_one_loop_on_their_own_clocks():
    with held(socket.SOCK_STREAM, 4, listen=True) as port, held(socket.SOCK_STREAM, 4) as closed:
        sockets = [
            open_connect_socket(LO, "127.0.0.1", port),
            open_connect_socket(LO, "127.0.0.1", closed),
        ]
        plans = [FAST, EchoPlan(count=4, interval_s=0.02, waiting_s=0.5)]
        found = measured(
            *(series(s, 4, "tcp-connect", p) for s, p in zip(sockets, plans, strict=True))
        )
        for sock in sockets:
            sock.close()
    assert [len(one.observed.sent_s) for one in found] == [10, 4]
    assert {o for one in found for o in one.observed.outcome} == {EchoOutcome.ANSWERED}


def test_where_echo_is_refused_the_next_means_is_opened():
    def opener(method, port):
        if method == "icmp-echo":
            raise RightMissing(right="to send ICMP echo", purpose="delay by echo")
        return OPENERS[method](LO, "127.0.0.1", port)

    for role, expected in ((Role.GATEWAY, "udp-unreachable"), (Role.SERVER, "tcp-connect")):
        method, sock = open_first(opener, "icmp-echo", role, 80)
        sock.close()
        assert method == expected


def test_waiting_returns_the_sockets_on_which_something_happened():
    with (
        held(socket.SOCK_STREAM, 4, listen=True) as port,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as quiet,
    ):
        quiet.bind(("127.0.0.1", 0))
        busy = open_connect_socket(LO, "127.0.0.1", port)
        still = open_unreachable_socket(LO, "127.0.0.1", quiet.getsockname()[1])
        busy.send(b"")
        assert list(wait_together([busy, still], 5.0)) == [busy]
        busy.poll(0.0)
        assert list(wait_together([still], 0.0)) == []
        busy.close()
        still.close()


def test_sockets_without_a_descriptor_are_looked_at_often():
    class Blind:
        """A socket whose events some other thread of the system brings."""

    blind = Blind()
    assert list(wait_together([blind], 60.0)) == [blind]


def test_more_descriptors_than_select_knows_are_waited_on_too(monkeypatch):
    monkeypatch.setattr("agent.engines.waiting.MOST_SELECTABLE", 0)
    with held(socket.SOCK_STREAM, 4, listen=True) as port:
        sock = open_connect_socket(LO, "127.0.0.1", port)
        sock.send(b"")
        assert list(wait_together([sock], 5.0)) == [sock]
        sock.close()


def test_stamping_is_seen_to_work_before_anything_is_timed():
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as stamped:
        stamped.setsockopt(socket.SOL_SOCKET, SO_TIMESTAMPNS, 1)
        assert await_stamping()


def test_stamps_of_the_reading_are_told_from_stamps_of_the_arrival(monkeypatch):
    """A clock that says the packet was read before it was stamped: as if stamping were off."""
    monkeypatch.setattr(linux_stamping, "unix_ns", lambda: 0)
    monkeypatch.setattr(linux_stamping, "TRIES", 2)
    assert not await_stamping()


def test_without_a_loopback_address_a_fixed_time_is_waited(monkeypatch):
    waited = []
    monkeypatch.setattr(linux_stamping, "LOOPBACK", "192.0.2.77")
    monkeypatch.setattr(linux_stamping.time, "sleep", waited.append)
    assert not await_stamping()
    assert waited == [linux_stamping.SETTLING_S]


def test_a_host_that_is_not_there_is_named_by_its_error(monkeypatch):
    """Scripted: an ICMP error looks like a refusal unless the error queue is read."""
    with held(socket.SOCK_STREAM, 4) as port:
        sock = open_connect_socket(LO, "127.0.0.1", port)
        error = linux_connect_socket.ExtendedError(
            origin=2, icmp_type=3, icmp_code=13, info=0, data=0, offender="192.0.2.1"
        )
        monkeypatch.setattr(linux_connect_socket, "_icmp_error", lambda _: error)
        sock.send(b"payload")
        (event,) = heard(sock, Failed)
        sock.close()
    assert (event.icmp_type, event.icmp_code, event.source) == (3, 13, "192.0.2.1")
    assert event.quoted == b"payload"


def test_a_repeated_syn_makes_no_round_trip(monkeypatch):
    class Repeated:
        segments_retransmitted = 1
        rtt_ms = 1.0

    monkeypatch.setattr(linux_connect_socket, "read_tcp_info", lambda _: Repeated())
    with held(socket.SOCK_STREAM, 4, listen=True) as port:
        sock = open_connect_socket(LO, "127.0.0.1", port)
        sock.send(b"")
        select.select([sock.fileno()], [], [], 5.0)
        assert sock.poll(0.0) == ()
        sock.close()
