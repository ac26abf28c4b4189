"""The prober process: orders and results keep their form, and it ends when it should."""

import json
import os
import select
import signal
import socket
import threading
from contextlib import contextmanager
from dataclasses import replace

import pytest

from agent.clock import SystemClock
from agent.codec.stamp import ReflectorPacket, decode_sender, encode_reflector
from agent.errors import ProberFailed
from agent.measurements import (
    EchoOutcome,
    EchoSeries,
    Kind,
    Measurement,
    Reason,
    Role,
    StampClock,
    State,
    WebAttempt,
)
from agent.ports.binding import Binding
from agent.record.typed import measurement_document, measurement_of
from agent.session.prober import channel as channels
from agent.session.prober import client as clients
from agent.session.prober.channel import Channel
from agent.session.prober.client import ProberClient
from agent.session.prober.order import FetchOrder, Order, SeriesOrder, document_of, order_of
from agent.settings.model import EchoPlan

SHORT = EchoPlan(count=20, interval_s=0.005, waiting_s=0.5)


def order(*series, **changes):
    """Return an order of twenty probes over the loopback interface."""
    usual = {
        "origin_s": SystemClock().monotonic_s(),
        "binding": Binding(),
        "load": "down",
        "plan": SHORT,
        "within_s": 10.0,
        "series": series,
    }
    return Order(**(usual | changes))


def stamp(port):
    """Return a STAMP series to a port of this computer."""
    return SeriesOrder(role=Role.SERVER, method="stamp", address="127.0.0.1", port=port, ssid=7)


@contextmanager
def reflector():
    """A STAMP reflector on loopback; yields its port."""
    sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    sock.bind(("127.0.0.1", 0))
    ends, end = socket.socketpair()

    def serve():
        count = 0
        while ends not in select.select([sock, ends], [], [])[0]:
            data, source = sock.recvfrom(2048)
            sender = decode_sender(data)
            packet = ReflectorPacket(
                sequence=count,
                timestamp=0,
                receive_timestamp=0,
                sender_sequence=sender.sequence,
                sender_timestamp=sender.timestamp,
                sender_ttl=64,
            )
            count += 1
            sock.sendto(encode_reflector(packet, len(data)), source)

    thread = threading.Thread(target=serve)
    thread.start()
    try:
        yield sock.getsockname()[1]
    finally:
        end.close()
        thread.join()
        ends.close()
        sock.close()


@pytest.fixture
def prober():
    """A running prober process."""
    client = ProberClient.start(lambda _family: None)
    yield client
    client.close()


@pytest.fixture
def ends():
    """Both ends of a channel."""
    sockets = socket.socketpair()
    yield tuple(Channel(sock) for sock in sockets)
    for sock in sockets:
        sock.close()


def test_an_order_arrives_as_it_was_given():
    given = order(
        replace(stamp(862), key="5e" * 32),
        SeriesOrder(role=Role.GATEWAY, method="icmp-echo", address="192.0.2.1"),
        binding=Binding(interface="eth0", ipv4="192.0.2.20"),
        fetch=FetchOrder(url="https://test.example/card", address="203.0.113.9", token="secret"),
    )
    assert order_of(json.loads(json.dumps(document_of(given)))) == given
    assert "secret" not in repr(given)
    assert "5e5e" not in repr(given)


def test_a_measurement_arrives_as_it_was_made():
    series = EchoSeries(
        waiting_s=1.0,
        interval_s=0.02,
        payload_bytes=44,
        sent_s=(0.1, 0.30000000000000004),
        rtt_ms=(1.25, None),
        outcome=(EchoOutcome.ANSWERED, EchoOutcome.UNREACHABLE),
        copies=(1, 0),
        arrival_order=(0,),
        far_received=(True, None),
        forward_ms=(0.5, None),
        backward_ms=(0.75, None),
        error_from=((1, "192.0.2.1", "3/1"),),
        foreign=(WebAttempt(sent_s=0.1, connect_ms=2.0, problem="timed-out"),),
        load="up",
        clock_steps=1,
    )
    made = Measurement(
        kind=Kind.DELAY,
        role=Role.SERVER,
        state=State.PARTIAL,
        method="stamp",
        started_s=0.1,
        duration_s=1.3,
        family=4,
        address="203.0.113.9",
        clock=StampClock.KERNEL,
        reason=Reason(code="time-limit", values={"after_s": 1.3}),
        observed=series,
    )
    assert measurement_of(json.loads(json.dumps(measurement_document(made)))) == made


def test_sockets_travel_with_the_line_they_belong_to(ends):
    ours, theirs = ends
    passed, kept = socket.socketpair()
    with passed, kept:
        ours.send({"number": 1}, [passed])
        ours.send({"number": 2})
        first, second = theirs.receive(5), theirs.receive(5)
        assert (first.document, second.document) == ({"number": 1}, {"number": 2})
        assert second.descriptors == ()
        with socket.socket(fileno=first.descriptors[0]) as arrived:
            arrived.sendall(b"here")
        assert kept.recv(16) == b"here"


def test_a_channel_ends_times_out_and_bounds_its_lines(ends, monkeypatch):
    ours, theirs = ends
    with pytest.raises(TimeoutError):
        theirs.receive(0.0)
    monkeypatch.setattr(channels, "LONGEST", 10)
    ours._sock.sendall(b"x" * 20)
    with pytest.raises(ValueError, match="too long"):
        theirs.receive(5)
    theirs._data.clear()
    ours.close()
    assert theirs.receive(5) is None


@pytest.mark.loopback
def test_orders_overlap_and_each_gets_its_own_result(prober):
    with reflector() as port:
        first = prober.begin(order(stamp(port)))
        second = prober.begin(order(stamp(port), load="up"))
        first.end()
        second.end()
        results = {}
        for name, one in (("second", second), ("first", first)):
            (results[name],), moved = one.results()
            assert moved >= 0
    assert results["first"].observed.load == "down"
    assert results["second"].observed.load == "up"


@pytest.mark.loopback
def test_times_stand_on_the_visits_own_timeline(prober):
    clock = SystemClock()
    origin_s = clock.monotonic_s() - 100.0
    with reflector() as port:
        before_s = clock.monotonic_s() - origin_s
        under_way = prober.begin(order(stamp(port), origin_s=origin_s))
        # A series of twenty ends by its count as well; the result is waited for either way.
        (measured,), moved = prober_result(under_way)
        after_s = clock.monotonic_s() - origin_s
    series = measured.observed
    assert measured.state is State.COMPLETE
    assert measured.clock is StampClock.KERNEL
    assert set(series.outcome) == {EchoOutcome.ANSWERED}
    assert before_s <= series.sent_s[0] <= series.sent_s[-1] <= after_s
    # STAMP over IPv4 (RFC 8762 §4.2, RFC 768, RFC 791): 44 + 8 + 20 octets, there and back.
    assert moved == 2 * 72 * len(series.sent_s)


def prober_result(under_way):
    """Return the result of a series that its count ends."""
    said = under_way._prober.heard(under_way._number, "done", 10.0)
    assert said["said"] == "done"
    return under_way.results()


@pytest.mark.loopback
def test_a_series_that_cannot_be_sent_says_why_and_does_not_lose_the_other(prober):
    nowhere = replace(stamp(9), address="203.0.113.9", role=Role.GATEWAY)
    with reflector() as port:
        both = order(stamp(port), nowhere, binding=Binding(ipv4="127.0.0.1"))
        under_way = prober.begin(both)
        measured, _ = prober_result(under_way)
    sound, refused = measured
    assert sound.state is State.COMPLETE
    assert refused.state is State.FAILED
    assert refused.reason is not None


@pytest.mark.loopback
def test_a_prober_that_was_killed_is_noticed_and_closed(prober):
    os.kill(prober.pid, signal.SIGKILL)
    with pytest.raises(ProberFailed):
        prober.begin(order(stamp(9)))


@pytest.mark.loopback
def test_an_order_it_cannot_read_fails_alone(prober):
    bad = replace(order(stamp(9)), series=(replace(stamp(9), method="stamp", address="no"),))
    with pytest.raises(ProberFailed):
        prober.begin(bad)
    with reflector() as port:
        measured, _ = prober_result(prober.begin(order(stamp(port))))
    assert measured[0].state is State.COMPLETE


@pytest.mark.loopback
def test_the_end_of_the_channel_ends_the_process():
    client = ProberClient.start(lambda _family: None)
    client.close()
    assert client._process.returncode is not None


def test_a_system_that_hands_no_socket_to_a_process_starts_none(monkeypatch):
    # Windows: only its own kind of handle is inherited as a standard input.
    monkeypatch.setattr(clients, "HANDS_SOCKETS", False)
    with pytest.raises(ProberFailed):
        ProberClient.start(lambda _family: None)
