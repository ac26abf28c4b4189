"""What strikes a transfer in its middle on a line: a partial result, told soon, never too high."""

import json
import shutil
import signal
import sys
import time
from contextlib import contextmanager
from itertools import accumulate
from pathlib import Path

import pytest
from loopback_servers import EXAMPLES, NGINX

from agent.practice.host import FOLDER
from agent.practice.line import LineSpec
from agent.practice.network import PracticeNetwork
from agent.practice.process import PIPE

pytestmark = [
    pytest.mark.lab,
    pytest.mark.rate,
    pytest.mark.usefixtures("require_lab"),
    pytest.mark.skipif(shutil.which("nginx") is None, reason="nginx is not installed"),
]

PROGRAM = Path(__file__).with_name("lab_direct.py")
ROOT = Path(__file__).parents[2]
PORT = 8643
RATE_BPS = 10_000_000
# Octets of a full frame at the shaper, and of the payload in it: Ethernet header 14 (IEEE 802.3),
# IPv4 20 (RFC 791), TCP 20 (RFC 9293), time stamps 12 (RFC 7323 appendix A), packet 1500.
FRAME, PAYLOAD = 1514, 1448
# Enough for a good second of the line, so that something is known before it is full.
DISK_BYTES = 2_500 * 1024


@contextmanager
def far_nginx(monkeypatch, disk="200m"):
    """Build a line with the example at its far end, on a disk of a size; yields net and server."""
    monkeypatch.setenv("PYTHONPATH", f"{ROOT}:{PROGRAM.parent}")
    spec = LineSpec(
        down_bps=RATE_BPS, up_bps=RATE_BPS, provisioned=1.0, rtt_ms=20, real_servers=False
    )
    far = f"{FOLDER}/far"
    text = (EXAMPLES / "nginx.conf").read_text().replace(f"listen [::]:{PORT};", "")
    script = f"""set -e
mkdir -p {far}/www {far}/tmp {far}/up
mount -t tmpfs -o size={disk} far {far}/up
truncate -s 1G {far}/www/down.bin
cat > {far}/nginx.conf
exec {NGINX} -p {far} -c {far}/nginx.conf -e stderr -g 'daemon off; master_process off;'
"""
    with (
        PracticeNetwork(spec) as network,
        network.server.popen(["sh", "-c", script], stdin=PIPE) as server,
    ):
        server.stdin.write(text.encode())
        server.stdin.close()
        listens = f"until ss -tln | grep -q :{PORT}; do sleep 0.02; done"
        network.server.run(["sh", "-c", listens], timeout=20, check=True)
        try:
            yield network, server
        finally:
            server.kill()
            server.wait(10)


def command(network, direction):
    path = {"down": "down.bin", "up": "up/"}[direction]
    url = f"http://{network.server.address}:{PORT}/{path}"
    return [sys.executable, str(PROGRAM), url, direction, network.interface, "20"]


def octets(network, direction):
    """Return what the laptop's port has carried of a direction."""
    side = {"down": "rx", "up": "tx"}[direction]
    counter = f"/sys/class/net/{network.interface}/statistics/{side}_bytes"
    return int(network.laptop.run(["cat", counter], timeout=10).stdout)


def assert_partial(measured, *codes):
    assert measured["state"] == "partial", measured["reason"]
    assert measured["reason"]["code"] in codes
    seen = measured["observed"]
    rate = sum(seen["slice_bytes"]) * 8 / seen["slice_end_s"][-1]
    # The far end's queue may hand over a little at once; never more than the line carries.
    assert rate < 1.1 * RATE_BPS * PAYLOAD / FRAME


def stall(_network, server):
    server.send_signal(signal.SIGSTOP)


def change_the_address(network, _server):
    port = network.interface
    prefix = network.laptop.address.rpartition(".")[0]
    gateway = network.router.address
    for change in (
        ["ip", "address", "flush", "dev", port],
        ["ip", "address", "add", f"{prefix}.77/24", "dev", port],
        ["ip", "route", "add", "default", "via", gateway],
    ):
        network.laptop.run(change, timeout=10, check=True)


@pytest.mark.parametrize("direction", ["down", "up"])
@pytest.mark.parametrize("strike", [stall, change_the_address])
def test_a_strike_in_the_middle_is_told_soon(monkeypatch, strike, direction):
    with (
        far_nginx(monkeypatch) as (network, server),
        network.laptop.popen(command(network, direction)) as client,
    ):
        while octets(network, direction) < 1_500_000:
            assert client.poll() is None
        struck_s = time.monotonic()
        strike(network, server)
        measured = json.loads(client.stdout.read())
        lasted_s = time.monotonic() - struck_s
    assert_partial(measured, "timed-out", "no-route", "no-address", "closed-early")
    assert lasted_s < 5


def test_a_full_disk_at_the_far_end_is_told(monkeypatch):
    with far_nginx(monkeypatch, disk=str(DISK_BYTES)) as (network, _):
        done = network.laptop.run(command(network, "up"), timeout=40)
    measured = json.loads(done.stdout)
    assert_partial(measured, "bad-reply", "closed-early")
    seen = measured["observed"]
    # Until the file system is full all is well: the time that counts begins with its last octet.
    arrived = accumulate(seen["slice_bytes"])
    ends = zip(seen["slice_end_s"], arrived, strict=True)
    full_s = next((end for end, count in ends if count >= DISK_BYTES), seen["slice_end_s"][-1])
    carried_s = seen["began_s"] - measured["started_s"] + full_s
    assert measured["duration_s"] - carried_s < 5
