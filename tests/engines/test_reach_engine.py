"""Single attempts on real sockets of this computer, against the server's answering port."""

import socket

import pytest

from agent.clock import SystemClock
from agent.codec.sighting import ASK_BYTES
from agent.engines.reach import SystemReach
from agent.measurements import ReachOutcome, Transport
from agent.ports.binding import Binding
from agent.ports.reach import ReachOrder
from agent.server.answering import MOST_OPEN, Allowance, Answering
from agent.server.listening import open_answering
from agent.server.options import ServeOptions

pytestmark = pytest.mark.loopback

HERE = "127.0.0.1"
BOTH = list(Transport)


@pytest.fixture(scope="module")
def answering():
    sockets = open_answering(ServeOptions(host=HERE, answer_port=0))
    with Answering(*sockets, SystemClock()) as running:
        yield running


def attempt(transport, port, *, within_s=2.0, binding=Binding(), **more):  # noqa: B008 - frozen
    order = ReachOrder(transport=transport, address=HERE, port=port, within_s=within_s, **more)
    return SystemReach(binding).attempt(order)


def closed_port():
    with socket.socket() as free:
        free.bind((HERE, 0))
        return free.getsockname()[1]


@pytest.mark.parametrize("transport", BOTH)
def test_the_answering_port_tells_the_very_ends_of_the_flow(answering, transport):
    """Nobody translates on loopback: what is seen is what is held."""
    came = attempt(transport, answering.port, asks=True)
    assert came.outcome is ReachOutcome.OPEN
    assert (came.seen_address, came.seen_port) == (came.own_address, came.own_port)
    assert came.own_address == HERE
    assert came.rtt_ms is not None


@pytest.mark.parametrize("transport", BOTH)
def test_a_port_is_open_without_being_asked(answering, transport):
    came = attempt(transport, answering.port)
    assert (came.outcome, came.seen_address) == (ReachOutcome.OPEN, None)


def test_a_closed_port_refuses_a_connection():
    assert attempt(Transport.TCP, closed_port()).outcome is ReachOutcome.REFUSED


def test_a_closed_port_over_udp_is_told_by_its_host():
    """RFC 1122 §3.2.2.1: destination unreachable, code 3, port unreachable."""
    came = attempt(Transport.UDP, closed_port())
    assert (came.outcome, came.answered_by) == (ReachOutcome.UNREACHABLE, HERE)
    assert (came.icmp_type, came.icmp_code) == (3, 3)


def test_a_port_that_takes_and_never_answers_is_silent_over_udp():
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as mute:
        mute.bind((HERE, 0))
        came = attempt(Transport.UDP, mute.getsockname()[1], within_s=0.05)
    assert (came.outcome, came.rtt_ms) == (ReachOutcome.SILENT, None)


def test_a_server_of_another_kind_is_open_and_says_nothing():
    with socket.create_server((HERE, 0)) as other:
        came = attempt(Transport.TCP, other.getsockname()[1], within_s=0.1, asks=True)
    assert (came.outcome, came.seen_address) == (ReachOutcome.OPEN, None)


def test_what_this_laptop_cannot_send_is_unsent():
    came = attempt(Transport.TCP, 9, binding=Binding(interface="nothere0"))
    assert came.outcome is ReachOutcome.UNSENT


def said_back(stream):
    """Return what came; an end with words left unread is a reset (RFC 1122 §4.2.2.13)."""
    try:
        return stream.recv(ASK_BYTES)
    except ConnectionResetError:
        return b""


@pytest.mark.parametrize("said", [b"hello", b"\0" * 500, b"doorstep ask 00"])
def test_the_answering_port_answers_no_other_words(answering, said):
    with socket.create_connection((HERE, answering.port), timeout=2) as stream:
        stream.sendall(said)
        assert said_back(stream) == b""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asker:
        asker.settimeout(2)
        asker.connect((HERE, answering.port))
        asker.send(said)
        # Answers keep the order of questions: the first that comes is that to the sound question.
        assert attempt(Transport.UDP, answering.port).outcome is ReachOutcome.OPEN
        asker.setblocking(False)
        with pytest.raises(BlockingIOError):
            asker.recv(ASK_BYTES)


def test_who_holds_connections_keeps_nobody_out(answering):
    held = [socket.create_connection((HERE, answering.port), timeout=2) for _ in range(MOST_OPEN)]
    try:
        assert attempt(Transport.TCP, answering.port, asks=True).seen_address == HERE
    finally:
        for stream in held:
            stream.close()


def test_only_so_many_answers_are_given_in_a_second():
    allowance = Allowance(per_s=2)
    assert [allowance.take(at) for at in (5.0, 5.5, 5.9, 6.0)] == [True, True, False, True]
