"""Throughput over the practice network, against its shaped rate by header arithmetic."""

import json
import sys
from contextlib import contextmanager
from pathlib import Path

import pytest

from agent.practice.line import LineSpec
from agent.practice.network import PracticeNetwork

pytestmark = [pytest.mark.lab, pytest.mark.usefixtures("require_lab")]

PROGRAM = str(Path(__file__).with_name("lab_transfer.py"))
ROOT = str(Path(__file__).parents[2])
SECONDS = 4.0

# Octets of a full frame at the shaper, and of the payload in it: Ethernet header 14 (IEEE 802.3),
# IPv4 20 (RFC 791), TCP 20 (RFC 9293), timestamps 12 (RFC 7323 appendix A), packet 1500.
FRAME, PAYLOAD = 1514, 1448


@contextmanager
def line(**chosen):
    """Build a line with a server at its far end; yields a function that measures a direction."""
    with PracticeNetwork(LineSpec(**({"seed": 3, "congestion": "reno"} | chosen))) as network:
        command = [sys.executable, PROGRAM, "serve", network.server.address]
        with network.server.popen(command) as server:
            port = server.stdout.readline().decode().strip()

            def measure(direction):
                ask = [network.server.address, port, network.interface, direction, str(SECONDS)]
                done = network.laptop.run(
                    [sys.executable, PROGRAM, "measure", *ask], timeout=60, plain=True
                )
                assert done.returncode == 0, done.stderr
                return json.loads(done.stdout), network.truth()

            try:
                yield measure
            finally:
                server.kill()
                server.wait(10)


def steady_bps(observed):
    """Return the mean rate over the second half of a transfer."""
    ends, counts = observed["slice_end_s"], observed["slice_bytes"]
    half = len(ends) // 2
    return 8 * sum(counts[half:]) / (ends[-1] - ends[half - 1])


@pytest.fixture(autouse=True)
def _imports(monkeypatch):
    monkeypatch.setenv("PYTHONPATH", ROOT)


@pytest.mark.parametrize(("down", "up", "rtt_ms"), [(25, 5, 20), (100, 20, 80)])
def test_goodput_is_the_shaped_rate_by_header_arithmetic(down, up, rtt_ms):
    with line(down_bps=down * 10**6, up_bps=up * 10**6, rtt_ms=rtt_ms) as measure:
        for direction in ("down", "up"):
            measured, truth = measure(direction)
            assert measured["state"] == "complete", measured["reason"]
            seen = measured["observed"]
            assert truth["layer"] == "frame"
            ideal = truth[f"{direction}_bps"] * PAYLOAD / FRAME
            assert steady_bps(seen) == pytest.approx(ideal, rel=0.015)
            assert (seen["mtu_bytes"], seen["header_bytes"]) == (1500, 1500 - PAYLOAD)
            check_interface(seen)


def check_interface(seen):
    """The interface carried the payload and at most every frame's headers, and little else.

    A loss-free practice line carries super-frames, whose headers the kernel counts only once.
    """
    counted = sum(seen["slice_bytes"])
    assert 0.99 * counted < seen["interface_bytes"] < counted * FRAME / PAYLOAD * 1.25
