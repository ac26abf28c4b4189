"""Throughput over the practice network, against its shaped rate by header arithmetic."""

import json
import sys
import time
from contextlib import contextmanager
from pathlib import Path

import pytest

from agent.practice.line import LineSpec
from agent.practice.network import PracticeNetwork

pytestmark = [pytest.mark.lab, pytest.mark.rate, pytest.mark.usefixtures("require_lab")]

PROGRAM = str(Path(__file__).with_name("lab_transfer.py"))
ROOT = str(Path(__file__).parents[2])
SECONDS = 4.0

# Octets of a full frame at the shaper, and of the payload in it: Ethernet header 14 (IEEE 802.3),
# IPv4 20 (RFC 791), TCP 20 (RFC 9293), timestamps 12 (RFC 7323 appendix A), packet 1500.
FRAME, PAYLOAD = 1514, 1448


@contextmanager
def line(**chosen):
    """Build a line with a server at its far end; yields a function that measures a direction."""
    with served(**chosen) as (network, _, ask):

        def measure(direction):
            command = ask(direction, SECONDS)
            done = network.laptop.run(command, timeout=60, plain=True)
            assert done.returncode == 0, done.stderr
            return json.loads(done.stdout), network.truth()

        yield measure


@contextmanager
def served(**chosen):
    """Build a line with a server; yields both and the command that measures a direction."""
    with PracticeNetwork(LineSpec(**({"seed": 3, "congestion": "reno"} | chosen))) as network:
        command = [sys.executable, PROGRAM, "serve", network.server.address]
        with network.server.popen(command) as server:
            port = server.stdout.readline().decode().strip()

            def ask(direction, seconds):
                where = [network.server.address, port, network.interface]
                return [sys.executable, PROGRAM, "measure", *where, direction, str(seconds)]

            try:
                yield network, server, ask
            finally:
                server.kill()
                server.wait(10)


@pytest.fixture(autouse=True)
def _imports(monkeypatch):
    monkeypatch.setenv("PYTHONPATH", ROOT)


@pytest.mark.parametrize(("down", "up", "rtt_ms"), [(100, 20, 20)])
def test_goodput_is_the_shaped_rate_by_header_arithmetic(down, up, rtt_ms):
    with line(down_bps=down * 10**6, up_bps=up * 10**6, rtt_ms=rtt_ms) as measure:
        for direction in ("down", "up"):
            measured, truth = measure(direction)
            assert measured["state"] == "complete", measured["reason"]
            seen = measured["observed"]
            assert truth["layer"] == "frame"
            ideal = truth[f"{direction}_bps"] * PAYLOAD / FRAME
            found = measured["statistics"]
            half = (found["high_bps"] - found["low_bps"]) / 2
            assert abs(found["goodput_bps"] - ideal) <= max(0.01 * ideal, 2 * half)
            assert (seen["mtu_bytes"], seen["header_bytes"]) == (1500, 1500 - PAYLOAD)
            check_interface(seen)


def pull_the_link(network, _server):
    network.laptop.run(["ip", "link", "set", network.interface, "down"], timeout=10)


def kill_the_server(_network, server):
    server.kill()


@pytest.mark.parametrize(
    ("strike", "direction", "code"),
    [(pull_the_link, "down", "timed-out"), (kill_the_server, "up", "closed-early")],
)
def test_what_dies_in_the_middle_leaves_a_partial_result_soon(strike, direction, code):
    with (
        served(down_bps=25_000_000, up_bps=5_000_000, rtt_ms=20) as (network, server, ask),
        network.laptop.popen(ask(direction, 20)) as client,
    ):
        second = {"down": 3_000_000, "up": 700_000}[direction]
        while octets(network, direction) < second:
            assert client.poll() is None
        struck_s = time.monotonic()
        strike(network, server)
        measured = json.loads(client.stdout.read())
        lasted_s = time.monotonic() - struck_s
        ideal = network.truth()[f"{direction}_bps"] * PAYLOAD / FRAME
    assert (measured["state"], measured["reason"]["code"]) == ("partial", code)
    assert lasted_s < 5
    seen = measured["observed"]
    assert sum(seen["slice_bytes"]) * 8 / seen["slice_end_s"][-1] < 1.1 * ideal


def octets(network, direction):
    """Return what the laptop's port has carried of a direction."""
    side = "rx" if direction == "down" else "tx"
    counter = f"/sys/class/net/{network.interface}/statistics/{side}_bytes"
    return int(network.laptop.run(["cat", counter], timeout=10).stdout)


def check_interface(seen):
    """The interface carried the payload and at most every frame's headers, and little else.

    A loss-free practice line carries super-frames, whose headers the kernel counts only once.
    """
    counted = sum(seen["slice_bytes"])
    assert 0.99 * counted < seen["interface_bytes"] < counted * FRAME / PAYLOAD * 1.25
