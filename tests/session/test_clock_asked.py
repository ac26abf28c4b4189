"""Who is asked for the time of a visit, and what comes of it."""

from types import SimpleNamespace

import pytest

from agent.clock import ManualClock, Timeline
from agent.codec import ntp
from agent.errors import NameNotResolved, RightMissing
from agent.measurements import StampClock
from agent.ports.datagram import Received
from agent.ports.scripted_datagram import ScriptedSocket
from agent.session.clock_asked import ClockAsked

AHEAD_S = 300
NAMES = {"time.ternbay.example": "192.0.2.123", "198.51.100.2": "198.51.100.2"}


def site(clock, opened, *, time_servers=()):
    """A site whose sockets lead to a server with a clock that is ahead."""

    def reply(outgoing):
        now = ntp.from_unix_ns(round((clock.wall().timestamp() + AHEAD_S) * 1e9))
        told = ntp.TimeReply(
            leap=0,
            version=4,
            mode=4,
            stratum=1,
            poll=0,
            precision=-20,
            root_delay_s=0.0,
            root_dispersion_s=0.0,
            reference_id=b"GPS\0",
            reference=now,
            origin=ntp.decode_transmit(outgoing.payload),
            receive=now,
            transmit=now,
        )
        payload = ntp.encode_reply(told)
        return (Received(payload=payload, at_s=clock.now_s, clock=StampClock.USER),)

    def probe_socket(method, binding, address, port):
        if address == "198.51.100.66":
            raise RightMissing(right="any", purpose=method)
        opened.append((address, port, ScriptedSocket(clock, reply)))
        return opened[-1][2]

    def resolve(name, family, within_s):
        if name not in NAMES and name != "198.51.100.66":
            raise NameNotResolved(name=name, problem="absent")
        return (NAMES.get(name, name),)

    targets = SimpleNamespace(time_servers=time_servers)
    return SimpleNamespace(
        request=SimpleNamespace(settings=SimpleNamespace(targets=targets), family="4"),
        workshop=SimpleNamespace(probe_socket=probe_socket),
        ground=SimpleNamespace(binding=None),
        names=SimpleNamespace(resolve=resolve),
        timeline=Timeline.begin(clock),
    )


@pytest.mark.parametrize(
    ("time_servers", "address"),
    [((), "198.51.100.2"), (("time.ternbay.example", "other.example"), "192.0.2.123")],
)
def test_the_first_time_server_else_the_operators_server_is_asked_once(time_servers, address):
    clock, opened = ManualClock(), []
    told = ClockAsked(site(clock, opened, time_servers=time_servers), "198.51.100.2").told()
    assert [(a, port) for a, port, _ in opened] == [(address, 123)]
    assert told.offset_ms == pytest.approx(AHEAD_S * 1000)
    assert [len(s.sent) for *_, s in opened] == [1]
    assert opened[0][2].closed


def test_nobody_to_ask_is_no_answer():
    assert ClockAsked(site(ManualClock(), []), None).told() is None


@pytest.mark.parametrize(
    ("server", "reason"),
    [("unknown.example", "name-not-resolved"), ("198.51.100.66", "right-missing")],
)
def test_what_kept_it_from_asking_is_told(server, reason):
    told = ClockAsked(site(ManualClock(), []), server).told()
    assert (told.server, told.reason.code, told.offset_ms) == (server, reason, None)
