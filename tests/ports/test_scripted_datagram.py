import pytest

from agent.clock import ManualClock
from agent.errors import NoRoute
from agent.measurements import StampClock
from agent.ports.datagram import ProbeSocket, Received
from agent.ports.scripted_datagram import ScriptedSocket, ScriptedWait


def answer(out, after_s):
    return Received(payload=out.payload, at_s=out.at_s + after_s, clock=StampClock.KERNEL)


def test_events_come_in_their_order_of_time_and_move_the_clock():
    clock = ManualClock(now_s=5.0)
    delays = iter([0.3, 0.1])
    socket: ProbeSocket = ScriptedSocket(clock, lambda out: (answer(out, next(delays)),))
    assert [socket.send(b"slow", 3), socket.send(b"fast")] == [0, 1]
    assert [event.payload for event in socket.poll(1.0)] == [b"fast"]
    assert clock.now_s == pytest.approx(5.1)
    assert socket.poll(0.1) == ()
    assert clock.now_s == pytest.approx(5.2)
    assert [event.payload for event in socket.poll(1.0)] == [b"slow"]
    assert [out.hop_limit for out in socket.sent] == [3, None]


def test_a_refused_send_gets_no_index():
    refusals = [NoRoute(address="192.0.2.1")]

    def script(out):
        if refusals:
            raise refusals.pop()
        return ()

    socket = ScriptedSocket(ManualClock(), script)
    with pytest.raises(NoRoute):
        socket.send(b"a")
    assert socket.send(b"b") == 0
    socket.close()
    assert socket.closed


def test_waiting_on_several_moves_their_clock_to_the_first_event():
    clock = ManualClock(now_s=5.0)
    wait = ScriptedWait(clock)
    sockets = [ScriptedSocket(clock, lambda out, s=s: (answer(out, s),)) for s in (0.3, 0.1)]
    for socket in sockets:
        socket.send(b"")
    assert list(wait(sockets, 1.0)) == sockets
    assert clock.now_s == pytest.approx(5.1)
    assert [len(socket.poll(0.0)) for socket in sockets] == [0, 1]
    wait(sockets, 0.05)
    assert clock.now_s == pytest.approx(5.15)
    wait(sockets, 1.0)
    assert clock.now_s == pytest.approx(5.3)
    # What is due already is not waited for.
    wait(sockets, 1.0)
    assert clock.now_s == pytest.approx(5.3)
