import io
import json
import signal
import sys
import threading
from contextlib import contextmanager
from pathlib import Path
from subprocess import PIPE

import pytest
from scapy.layers.inet import UDP
from scapy.layers.l2 import Ether
from scapy.utils import RawPcapReader

from agent.codec.stamp import decode_reflector, decode_sender, unix_ns_from_ntp
from agent.practice.line import LineSpec
from agent.practice.network import PracticeNetwork

pytestmark = [pytest.mark.lab, pytest.mark.usefixtures("require_lab")]

PROGRAM = str(Path(__file__).with_name("lab_delay.py"))
ROOT = str(Path(__file__).parents[2])
BESIDE = str(Path(__file__).with_name("lab_prober.py"))
SERVER_PORT = 8642
COUNT = 300


@pytest.fixture(autouse=True)
def _programs_find_the_package(monkeypatch):
    monkeypatch.setenv("PYTHONPATH", ROOT)


@contextmanager
def reflector(network):
    with network.server.popen([sys.executable, PROGRAM, "reflect"], stdin=PIPE) as process:
        yield [int(word) for word in process.stdout.readline().split()]
        process.stdin.close()
        process.wait(10)


@contextmanager
def capture(network, port):
    """Capture the probes at the laptop's own port; yields a list that is filled at the end."""
    argv = [
        "tcpdump",
        "-i",
        "eth0",
        "-n",
        "-U",
        "--immediate-mode",
        "-s",
        "128",
        "--time-stamp-precision=nano",
    ]
    pieces, packets = [], []
    with network.laptop.popen([*argv, "-w", "-", "udp", "port", str(port)]) as process:
        while b"listening on" not in process.stderr.readline():
            pass
        reader = threading.Thread(target=lambda: pieces.append(process.stdout.read()))
        reader.start()
        yield packets
        process.send_signal(signal.SIGINT)
        reader.join(10)
        process.wait(10)
    for data, meta in RawPcapReader(io.BytesIO(pieces[0])):
        packets.append((meta.sec * 10**9 + meta.usec, Ether(data)))


def captured_rtt_ms(packets, port):
    """Round trips as the capture has them, less what the reflector says it took."""
    left, back = {}, {}
    for at_ns, packet in packets:
        payload = bytes(packet[UDP].payload)
        if packet[UDP].dport == port:
            left[decode_sender(payload).sequence] = at_ns
        else:
            answer = decode_reflector(payload)
            inside = unix_ns_from_ntp(answer.timestamp) - unix_ns_from_ntp(answer.receive_timestamp)
            back.setdefault(answer.sender_sequence, at_ns - inside)
    return {number: (back[number] - left[number]) / 1e6 for number in back}


def measured(network, port, sink):
    argv = [sys.executable, PROGRAM, "series", network.server.address]
    done = network.laptop.run(
        [*argv, str(port), str(COUNT), "0.01", str(sink)], timeout=60, plain=True
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.mark.parametrize("filled", [False, True], ids=["idle", "filled"])
def test_round_trips_agree_with_a_capture(filled):
    spec = LineSpec(down_bps=100_000_000, up_bps=20_000_000, rtt_ms=20, seed=3)
    with (
        PracticeNetwork(spec) as network,
        reflector(network) as (port, sink),
        capture(network, port) as packets,
    ):
        found = measured(network, port, sink if filled else 0)
    witness = captured_rtt_ms(packets, port)
    errors = sorted(
        abs(rtt - witness[n]) for n, rtt in enumerate(found["rtt_ms"]) if rtt is not None
    )
    assert len(errors) >= (COUNT // 2 if filled else COUNT)
    assert found["clock"] == "kernel"
    if filled:
        # The line queued: without that the case would be the idle one again.
        assert sorted(witness.values())[COUNT // 4] > 22.0
    # The bar of the product: 99 of 100 round trips within 0.1 ms of the capture.
    assert errors[int(0.99 * len(errors))] <= 0.1


@contextmanager
def operator(network):
    """The operator's server on its host, ready to serve."""
    port = str(SERVER_PORT)
    argv = [sys.executable, "-m", "agent", "serve", "--host", network.server.address]
    with network.server.popen([*argv, "--port", port, "--reflector-port", port]) as process:
        while b"Serving" not in (line := process.stderr.readline()):
            assert line, "the server ended"
        yield
        process.send_signal(signal.SIGINT)
        process.wait(10)


@pytest.mark.parametrize(("down_bps", "up_bps"), [(100_000_000, 20_000_000), (10**9, 500_000_000)])
def test_the_prober_agrees_with_a_capture_while_both_directions_are_filled(down_bps, up_bps):
    """The load runs in the process that asked for the series, as in a visit."""
    spec = LineSpec(down_bps=down_bps, up_bps=up_bps, rtt_ms=20, seed=3)
    with (
        PracticeNetwork(spec) as network,
        operator(network),
        capture(network, SERVER_PORT) as packets,
    ):
        done = network.laptop.run(
            [sys.executable, BESIDE, network.server.address, str(SERVER_PORT), "4"],
            timeout=60,
            plain=True,
        )
        assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    # Each direction carries the other's acknowledgements too: neither reaches its full rate.
    assert found["rates"]["down"] > down_bps / 10
    assert found["rates"]["up"] > up_bps / 10
    witness = captured_rtt_ms(packets, SERVER_PORT)
    errors = sorted(
        abs(rtt - witness[n]) for n, rtt in enumerate(found["rtt_ms"]) if rtt is not None
    )
    assert len(errors) >= COUNT // 2
    assert found["clock"] == "kernel"
    assert found["fetched"] > 0
    # The line queued: without that the load would not have been one.
    assert sorted(witness.values())[len(witness) // 2] > 22.0
    # The bar of the product: 99 of 100 round trips within 0.1 ms of the capture.
    assert errors[int(0.99 * len(errors))] <= 0.1


def test_loss_of_each_direction_is_what_the_line_itself_logged():
    spec = LineSpec(
        down_bps=100_000_000, up_bps=20_000_000, rtt_ms=20, loss_up=0.05, loss_down=0.05, seed=5
    )
    with PracticeNetwork(spec) as network, reflector(network) as (port, _):
        found = measured(network, port, 0)
        logged = network.losses()
    lost = {way: lost_probes(logged, way, port) for way in ("up", "down")}
    unanswered = {n for n, outcome in enumerate(found["outcome"]) if outcome == "lost"}
    assert unanswered == lost["up"] | lost["down"]
    known = found["far_received"]
    assert {n for n, there in enumerate(known) if there is False} <= lost["up"]
    assert {n for n in unanswered if known[n]} <= lost["down"]
    settled = [n for n in unanswered if known[n] is not None]
    assert len(settled) >= len(unanswered) // 2


def lost_probes(logged, way, port):
    """Return the sequence numbers of the probes in the line's log of lost packets."""
    numbers = set()
    for entry in logged:
        packet = bytes.fromhex(entry["packet"])
        udp = packet[20:]
        if entry["way"] != way or packet[9] != 17:
            continue
        payload = udp[8:]
        if way == "up" and int.from_bytes(udp[2:4], "big") == port:
            numbers.add(int.from_bytes(payload[:4], "big"))
        if way == "down" and int.from_bytes(udp[:2], "big") == port:
            numbers.add(int.from_bytes(payload[24:28], "big"))
    return numbers
