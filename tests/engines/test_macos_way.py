"""Ways on macOS over a scripted routing socket; never on a real system.

Messages are built from net/route.h and netinet/in.h (from memory): the header's 92 octets, then
each address in the order of its bit.
"""

import os
import socket
import struct

import pytest

from agent.clock import ManualClock
from agent.engines.macos_way import MOST_MESSAGES, WAITING_S, MacWays

HEAD = struct.Struct("=HBBHxxiiiiiiI56x")
RTM_GET, RTM_NEWADDR = 4, 12
RTF_GATEWAY, RTF_REJECT = 0x2, 0x8
RTA_GATEWAY = 0x2
NAMES = {4: "en0", 7: "en7"}


def inet(address):
    return struct.pack("=BBH4s8x", 16, 2, 0, socket.inet_aton(address))


class ScriptedRoutes:
    """A routing socket that answers a question as the script says, after other people's news."""

    def __init__(self, answers, before=()):
        self.answers, self.before = answers, list(before)
        self.asked, self.closed = [], 0
        self.waiting = []

    def __call__(self):
        return self

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.closed += 1

    def settimeout(self, seconds):
        assert 0 < seconds <= WAITING_S

    def send(self, question):
        _, _, _, index, _, _, process, number, *_ = HEAD.unpack_from(question)
        address = socket.inet_ntoa(question[96:100])
        self.asked.append((address, index))
        found = self.answers.get((address, index))
        if found is None:
            raise OSError(3, "no such process")
        self.waiting = [*self.before, message(process, number, **found)]

    def recv(self, size):
        if not self.waiting:
            raise TimeoutError
        return self.waiting.pop(0)[:size]


def message(process, number, *, gateway=None, index=4, flags=0, error=0, kind=RTM_GET):
    body = b"" if gateway is None else inet(gateway)
    flags |= RTF_GATEWAY if gateway else 0
    addrs = RTA_GATEWAY if gateway else 0
    return HEAD.pack(92 + len(body), 5, kind, index, flags, addrs, process, number, error, 0, 0) + (
        body
    )


def ways(routes, clock=None):
    index_of = {name: index for index, name in NAMES.items()}
    return MacWays(
        routes, clock=clock, index_of=lambda name: index_of[name], name_of=lambda n: NAMES[n]
    )


def test_the_answer_to_its_own_question_is_taken_from_among_others():
    mine = os.getpid()
    others = [
        message(mine + 1, 1, gateway="203.0.113.9"),
        message(mine, 900, gateway="203.0.113.9"),
        message(mine, 1, gateway="203.0.113.9", kind=RTM_NEWADDR),
        b"\0",
    ]
    routes = ScriptedRoutes({("198.51.100.10", 0): {"gateway": "192.0.2.1"}}, others)
    found = ways(routes).towards("198.51.100.10")
    assert (found.gateway, found.interface, routes.closed) == ("192.0.2.1", "en0", 1)


def test_a_way_on_the_link_itself_has_no_gateway():
    found = ways(ScriptedRoutes({("192.0.2.9", 0): {"index": 7}})).towards("192.0.2.9")
    assert (found.gateway, found.interface) == (None, "en7")


def test_the_default_way_of_one_interface_is_asked_for_by_its_number():
    routes = ScriptedRoutes({("0.0.0.0", 7): {"gateway": "203.0.113.1", "index": 7}})
    assert ways(routes).default_gateway("en7", (), 4) == "203.0.113.1"
    assert ways(routes).default_gateway("en0", (), 4) is None
    assert routes.asked == [("0.0.0.0", 7), ("0.0.0.0", 4)]


def test_an_answer_about_another_interface_is_no_default_way_of_this_one():
    routes = ScriptedRoutes({("0.0.0.0", 7): {"gateway": "192.0.2.1", "index": 4}})
    assert ways(routes).default_gateway("en7", (), 4) is None


@pytest.mark.parametrize("answer", [None, {"error": 3}, {"flags": RTF_REJECT}])
def test_no_way_is_none(answer):
    assert ways(ScriptedRoutes({("198.51.100.10", 0): answer})).towards("198.51.100.10") is None


def test_news_without_end_are_not_listened_to_for_ever():
    news = [message(1, 1)] * (MOST_MESSAGES + 1)
    routes = ScriptedRoutes({("198.51.100.10", 0): {"gateway": "192.0.2.1"}}, news)
    assert ways(routes).towards("198.51.100.10") is None
    assert len(routes.waiting) == 2


def test_a_silent_table_is_waited_for_no_longer_than_said():
    clock = ManualClock()

    class Slow(ScriptedRoutes):
        def recv(self, size):
            clock.sleep(WAITING_S / 4)
            return message(1, 1)

    assert ways(Slow({("198.51.100.10", 0): {}}), clock).towards("198.51.100.10") is None
    assert clock.monotonic_s() == pytest.approx(WAITING_S)


def test_a_system_without_such_a_socket_tells_of_no_way():
    def refused():
        raise OSError("not supported")

    assert ways(refused).towards("198.51.100.10") is None


def test_an_interface_that_is_gone_has_no_default_way():
    def gone(name):
        raise OSError(name)

    assert MacWays(ScriptedRoutes({}), index_of=gone).default_gateway("en9", (), 4) is None
