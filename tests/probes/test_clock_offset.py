"""The clock's offset by one exchange: scripted, spoiled, and with a real time server."""

import os
import shutil
import signal
import socket
import subprocess
import sys
from contextlib import contextmanager

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.clock import ManualClock, SystemClock
from agent.codec import ntp
from agent.engines.systems import open_probe_socket
from agent.measurements import ClockExchange, StampClock
from agent.ports.binding import Binding
from agent.ports.datagram import Failed, Received
from agent.ports.scripted_datagram import ScriptedSocket
from agent.probes.clock_offset import MOST_EVENTS, ask_time

SERVER, NONCE = "192.0.2.123", 0x1122334455667788


def unix_ns(clock):
    return round(clock.wall().timestamp() * 1e9)


def answered(clock, request, *, ahead_s=0.0, there_s=0.0, kept_s=0.0, back_s=0.0, **more):
    """What a server whose clock is ahead says, and when it comes in."""
    came_ns = unix_ns(clock) + round((there_s + ahead_s) * 1e9)
    fields = {
        "leap": 0,
        "version": 4,
        "mode": 4,
        "stratum": 2,
        "poll": 0,
        "precision": -20,
        "root_delay_s": 0.0,
        "root_dispersion_s": 0.0,
        "reference_id": b"\x7f\x00\x00\x01",
        "reference": 0,
        "origin": ntp.decode_transmit(request),
        "receive": ntp.from_unix_ns(came_ns),
        "transmit": ntp.from_unix_ns(came_ns + round(kept_s * 1e9)),
    }
    reply = ntp.TimeReply(**{**fields, **more})
    at_s = clock.monotonic_s() + there_s + kept_s + back_s
    return received(ntp.encode_reply(reply), at_s)


def received(payload, at_s=0.001):
    return Received(payload=payload, at_s=at_s, clock=StampClock.KERNEL)


def asked(*answers, within_s=1.0, **told):
    """What one question tells where the answers come, or one that is told so."""
    clock = ManualClock()

    def script(outgoing):
        return answers or (answered(clock, outgoing.payload, **told),)

    return ask_time(ScriptedSocket(clock, script), SERVER, NONCE, clock, within_s=within_s)


def test_the_arithmetic_of_the_standard():
    """RFC 5905 §8 with T1 to T4 of 0, 55, 60 and 20 ms: θ is 47.5 ms and δ 15 ms."""
    told = ClockExchange(server=SERVER, there_s=0.055 - 0.0, back_s=0.020 - 0.060)
    assert told.offset_ms == pytest.approx(47.5)
    assert told.unsure_ms == pytest.approx(15 / 2)


def test_a_negative_round_trip_of_a_fast_clock_is_no_less_unsure():
    """RFC 5905 §8: 100 ppm over 64 s make a round trip of -6.4 ms."""
    told = ClockExchange(server=SERVER, there_s=0.0, back_s=-0.0064)
    assert told.unsure_ms == pytest.approx(3.2)


def test_nothing_told_is_no_offset():
    assert ClockExchange(server=SERVER).offset_ms is None
    assert ClockExchange(server=SERVER).unsure_ms is None


@given(
    ahead_s=st.floats(-1e6, 1e6),
    there_s=st.floats(0.0, 0.3),
    kept_s=st.floats(0.0, 0.1),
    back_s=st.floats(0.0, 0.3),
)
def test_the_offset_is_right_within_what_it_says(ahead_s, there_s, kept_s, back_s):
    """Half the round trip bounds the error, whatever the two ways are."""
    told = asked(ahead_s=ahead_s, there_s=there_s, kept_s=kept_s, back_s=back_s)
    assert abs(told.offset_ms - ahead_s * 1000) <= told.unsure_ms + 0.01
    assert told.unsure_ms == pytest.approx((there_s + back_s) / 2 * 1000, abs=0.01)


@pytest.mark.parametrize("code", [b"RATE", b"DENY", b"RSTR"])
def test_a_server_that_asks_to_be_left_alone_is(code):
    told = asked(stratum=0, reference_id=code)
    assert (told.reason.code, told.reason.values["kiss"]) == ("time-refused", code.decode())
    assert told.offset_ms is None


def test_a_server_whose_clock_is_not_set_tells_nothing():
    assert asked(leap=3).reason.code == "time-not-set"


def test_an_answer_to_another_question_is_passed_over():
    """RFC 5905 §8: bogus unless its origin is what was sent."""
    clock = ManualClock()

    def script(outgoing):
        forged = answered(clock, outgoing.payload, ahead_s=9e5, origin=NONCE + 1)
        return (forged, received(b"short"), answered(clock, outgoing.payload, ahead_s=2.0))

    told = ask_time(ScriptedSocket(clock, script), SERVER, NONCE, clock, within_s=1.0)
    assert told.offset_ms == pytest.approx(2000, abs=0.01)


def test_silence_a_closed_port_and_a_flood_end_in_time():
    assert asked(received(b"nothing of use", 0.2)).reason.code == "timed-out"
    closed = Failed(icmp_type=3, icmp_code=3, at_s=0.001, clock=StampClock.KERNEL)
    assert asked(closed).reason.code == "refused"
    flood = [received(b"x" * 48, 0.001 + i * 1e-6) for i in range(10 * MOST_EVENTS)]
    assert asked(*flood).reason.code == "timed-out"


@contextmanager
def chrony(tmp_path):
    """A real time server on a free port of loopback that leaves this computer's clock alone."""
    program = shutil.which("chronyd", path=f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin")
    if program is None:
        (pytest.fail if os.environ.get("REQUIRE_LAB") == "1" else pytest.skip)("no chronyd here")
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    file = tmp_path / "chrony.conf"
    file.write_text(
        f"port {port}\nbindaddress 127.0.0.1\nallow 127.0.0.1\nlocal stratum 3\ncmdport 0\n"
        f"pidfile {tmp_path}/pid\nbindcmdaddress /\n"
    )
    account = () if os.geteuid() else ("-u", "root")
    process = subprocess.Popen(
        [program, "-d", "-x", "-U", *account, "-f", str(file)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    )
    try:
        yield process, port
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(10)
        process.stderr.close()


@pytest.mark.loopback
@pytest.mark.skipif(sys.platform != "linux", reason="chrony serves on Linux here")
def test_a_real_time_server_on_this_very_clock(tmp_path):
    """chronyd (RFC 5905) serves this computer's own clock: the offset is nothing."""
    clock = SystemClock()
    with chrony(tmp_path) as (process, port):
        for _ in range(40):
            with_socket = open_probe_socket(
                "linux", "stamp", Binding(ipv4="127.0.0.1"), "127.0.0.1", port
            )
            told = ask_time(with_socket, "127.0.0.1", NONCE, clock, within_s=0.25)
            with_socket.close()
            if told.offset_ms is not None or process.poll() is not None:
                break
            clock.sleep(0.05)
        said = "" if told.offset_ms is not None else process.stderr.peek().decode()
    assert told.reason is None, said
    assert told.stratum == 3
    assert abs(told.offset_ms) <= told.unsure_ms + 0.5
