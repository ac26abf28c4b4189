"""The UDP socket of systems without kernel stamps, on loopback."""

import socket

import pytest

from agent.engines.plain_datagram import open_plain_socket
from agent.errors import CannotMeasure
from agent.measurements import StampClock
from agent.ports.binding import Binding
from agent.ports.datagram import Failed, Received

pytestmark = pytest.mark.loopback
WAIT_S = 5.0
LOOPBACK = {4: "127.0.0.1", 6: "::1"}
FAMILIES = {4: socket.AF_INET, 6: socket.AF_INET6}


def untied(sock, family, binding):
    """Leave the way to the system."""


@pytest.fixture(params=[4, 6])
def far(request):
    """A UDP socket on loopback that answers when told."""
    with socket.socket(FAMILIES[request.param], socket.SOCK_DGRAM) as sock:
        sock.bind((LOOPBACK[request.param], 0))
        sock.settimeout(WAIT_S)
        yield sock


def opened(far):
    address, port = far.getsockname()[:2]
    return open_plain_socket(untied, Binding(), address, port)


def test_an_answer_is_stamped_by_this_program(far):
    near = opened(far)
    assert (near.send(b"one"), near.send(b"two", hop_limit=9)) == (0, 1)
    data, source = far.recvfrom(100)
    far.sendto(data[::-1], source)
    (event,) = near.poll(WAIT_S)
    near.close()
    assert isinstance(event, Received)
    assert (event.payload, event.clock) == (b"eno", StampClock.USER)


def test_a_closed_port_is_an_error_from_nobody_named(far):
    near = opened(far)
    far.close()
    near.send(b"one")
    (event,) = near.poll(WAIT_S)
    # The refusal of a datagram before does not keep the next one from leaving.
    near.send(b"two")
    near.send(b"three")
    near.close()
    assert isinstance(event, Failed)
    kind = {4: (3, 3), 6: (1, 4)}[4 if near._family == 4 else 6]
    assert ((event.icmp_type, event.icmp_code), event.source) == (kind, None)


def test_nothing_in_time_is_no_event(far):
    near = opened(far)
    assert near.poll(0) == ()
    near.close()


def test_a_way_that_cannot_be_tied_is_a_refusal():
    def refused(sock, family, binding):
        raise OSError(19, "no such device")

    with pytest.raises(CannotMeasure):
        open_plain_socket(refused, Binding(interface="none0"), "127.0.0.1", 9)
