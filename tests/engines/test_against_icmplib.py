"""The echo engine beside a second one, icmplib: the same payloads round, the same round trips."""

import json
import sys
from pathlib import Path

import pytest
from icmplib import ICMPRequest, ICMPv4Socket, ICMPv6Socket
from icmplib.exceptions import SocketPermissionError

from agent.engines.linux_datagram import open_echo_socket
from agent.errors import CannotMeasure
from agent.measurements import StampClock
from agent.ports.binding import Binding
from agent.ports.datagram import Received
from agent.practice.line import LineSpec
from agent.practice.network import PracticeNetwork

HERE = {4: "127.0.0.1", 6: "::1"}
SECOND = {4: ICMPv4Socket, 6: ICMPv6Socket}
REPLY = {4: 0, 6: 129}
ECHO_HEADER = 8

# Up to what icmplib's buffer of 1024 octets holds beside an IPv4 header and that of echo.
SIZES = [0, 1, 44, 57, 996]

PROGRAM = Path(__file__).with_name("lab_two_engines.py")
COUNT = 60
RTT_MS = 20


def second_socket(family):
    """Return icmplib's socket, without a right where the system allows it."""
    for privileged in (False, True):
        try:
            return SECOND[family](privileged=privileged)
        except (SocketPermissionError, OSError):
            continue
    pytest.skip("neither datagram nor raw ICMP is allowed to this user")


def own_socket(family):
    try:
        return open_echo_socket(Binding(interface="lo"), HERE[family])
    except CannotMeasure as error:
        pytest.skip(f"no echo over loopback of this family: {error}")


def first_answer(sock):
    """Return the first answer that comes."""
    while True:
        events = sock.poll(5.0)
        assert events
        for event in events:
            if isinstance(event, Received):
                return event


@pytest.mark.loopback
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("family", [4, 6], ids=["IPv4", "IPv6"])
def test_both_engines_get_back_as_many_octets_as_they_sent(family, size):
    payload = bytes(n % 251 for n in range(size))
    with own_socket(family) as own:
        own.send(payload)
        answer = first_answer(own)
    assert answer.payload == payload
    assert answer.clock is StampClock.KERNEL
    assert answer.source == HERE[family]
    with second_socket(family) as second:
        request = ICMPRequest(HERE[family], id=9, sequence=3, payload=payload or None)
        second.send(request)
        reply = second.receive(request, 5)
    assert (reply.type, reply.source) == (REPLY[family], HERE[family])
    # Without a payload icmplib makes one of its own.
    assert reply.bytes_received == ECHO_HEADER + (size or len(request.payload))


@pytest.mark.loopback
def test_the_answers_of_the_second_engine_are_none_of_ours():
    with own_socket(4) as own, second_socket(4) as second:
        request = ICMPRequest("127.0.0.1", id=9, sequence=0, payload=b"of the other engine")
        second.send(request)
        second.receive(request, 5)
        own.send(b"of this engine")
        assert first_answer(own).payload == b"of this engine"


@pytest.mark.lab
@pytest.mark.usefixtures("require_lab")
def test_round_trips_of_both_engines_agree_over_a_line(monkeypatch):
    monkeypatch.setenv("PYTHONPATH", str(PROGRAM.parents[2]))
    spec = LineSpec(down_bps=100_000_000, up_bps=20_000_000, rtt_ms=RTT_MS, seed=3)
    with PracticeNetwork(spec) as network:
        done = network.laptop.run(
            [sys.executable, str(PROGRAM), network.server.address, str(COUNT)],
            timeout=60,
            plain=True,
        )
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert set(found["outcome"]) == {"answered"}
    assert found["clock"] == "kernel"
    assert len(found["own"]) == len(found["second"]) == COUNT
    own, second = min(found["own"]), min(found["second"])
    # The second engine's clock is read after the program was woken: it can only say more. The
    # least of each counts, since the two ask one after the other and others use this computer.
    assert own <= second + 0.1
    assert second - own < 1.0
    assert abs(min(found["own"]) - RTT_MS) < 1.0
