"""A loaded series under a key: the prober's own process against the server's reflector logic."""

import select
import socket
import threading
from contextlib import contextmanager

import pytest

from agent.clock import SystemClock
from agent.measurements import EchoOutcome, Role
from agent.ports.binding import Binding
from agent.server.options import ReflectorLimits
from agent.server.reflection import Arrival, reply_to
from agent.server.sessions import SessionBook
from agent.session.prober.client import ProberClient
from agent.session.prober.order import Order, SeriesOrder
from agent.settings.model import EchoPlan

pytestmark = pytest.mark.loopback

HERE = "127.0.0.1"


@contextmanager
def reflector(book):
    """The server's reflector on a loopback socket; yields its port."""
    sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    sock.bind((HERE, 0))
    ends, end = socket.socketpair()

    def serve():
        while ends not in select.select([sock, ends], [], [])[0]:
            data, source = sock.recvfrom(2048)
            arrival = Arrival(data=data, address=source[0], at_ns=0, hop_limit=64)
            reply = reply_to(arrival, book, 0.0)
            if reply is not None:
                sock.sendto(reply.stamped(1), source)

    thread = threading.Thread(target=serve)
    thread.start()
    try:
        yield sock.getsockname()[1]
    finally:
        end.close()
        thread.join()
        ends.close()
        sock.close()


@pytest.mark.parametrize("authenticated", [True, False])
def test_the_probers_packets_are_under_the_key_it_was_given(authenticated):
    book = SessionBook(ReflectorLimits(), port=862)
    grant = book.open(HERE, HERE, 0.0, authenticated=authenticated)
    client = ProberClient.start(lambda _family: None)
    try:
        with reflector(book) as port:
            stamp = SeriesOrder(
                role=Role.SERVER,
                method="stamp",
                address=HERE,
                port=port,
                ssid=grant.ssid,
                key=grant.key,
            )
            begun = client.begin(
                Order(
                    origin_s=SystemClock().monotonic_s(),
                    binding=Binding(),
                    load="down",
                    plan=EchoPlan(count=20, interval_s=0.005),
                    within_s=10.0,
                    series=(stamp,),
                )
            )
            client.heard(0, "done", 10.0)
            (measured,), _ = begun.results()
    finally:
        client.close()
    seen = measured.observed
    assert set(seen.outcome) == {EchoOutcome.ANSWERED}
    assert seen.authenticated is authenticated
    assert seen.payload_bytes == (112 if authenticated else 44)
    assert seen.far_count == tuple(range(20))
    assert book.tally(grant.session, 0.0).report().unverified == 0
