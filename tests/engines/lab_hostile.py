"""Times this host over loopback while another process forges answers; run in a namespace.

The forger hears every echo request and sends wrong replies to it before and after the true one,
with the right identifier, number and addresses. Argument: 4 or 6. Prints JSON by case: with the
true answers beside the forged ones or without any, by datagram and by raw socket.
"""

import contextlib
import json
import os
import signal
import socket
import subprocess
import sys
from pathlib import Path

from agent.clock import SystemClock, Timeline
from agent.codec.icmp import ECHO_REPLY, ECHO_REQUEST, Echo, decode_echo, encode_echo
from agent.engines import linux_datagram
from agent.measurements import Role
from agent.ports.binding import Binding
from agent.ports.running import Unattended
from agent.probes.delay import measure_delay
from agent.settings.model import EchoPlan

HERE = {4: "127.0.0.1", 6: "::1"}
AF = {4: socket.AF_INET, 6: socket.AF_INET6}
ICMP = {4: socket.IPPROTO_ICMP, 6: socket.IPPROTO_ICMPV6}
IGNORE = {
    4: Path("/proc/sys/net/ipv4/icmp_echo_ignore_all"),
    6: Path("/proc/sys/net/ipv6/icmp/echo_ignore_all"),
}
GROUPS = Path("/proc/sys/net/ipv4/ping_group_range")
PLAN = EchoPlan(count=40, interval_s=0.005, waiting_s=0.3, tail_s=0.0)
OVERSIZE = 3000


def wrong(data, earlier):
    """Return payloads that are not the one that was sent."""
    yield data[:-1] + bytes([data[-1] ^ 1])
    yield data[:-1]
    yield data + b"\0"
    yield data + bytes(OVERSIZE)
    yield b""
    yield data[:10]
    yield from earlier[-1:]
    yield os.urandom(len(data))


def forge(family):
    """Answer every echo request wrongly until killed; the first line says that it listens."""
    with socket.socket(AF[family], socket.SOCK_RAW, ICMP[family]) as sock:
        sys.stdout.write("listening\n")
        sys.stdout.flush()
        earlier = []
        while True:
            packet, _ = sock.recvfrom(4096)
            message = packet[(packet[0] & 15) * 4 :] if family == 4 else packet
            if message[0] != ECHO_REQUEST[family]:
                continue
            request = decode_echo(message)
            for data in wrong(request.data, earlier):
                send_reply(sock, family, request, data)
            # And of another identifier, with the very payload.
            send_reply(sock, family, request, request.data, identifier=request.identifier ^ 1)
            earlier.append(request.data)


def send_reply(sock, family, request, data, identifier=None):
    """Send one echo reply, true in all but what is wrong on purpose."""
    reply = Echo(
        icmp_type=ECHO_REPLY[family],
        identifier=request.identifier if identifier is None else identifier,
        sequence=request.sequence,
        data=data,
    )
    with contextlib.suppress(OSError):
        sock.sendto(encode_echo(reply), (HERE[family], 0))


@contextlib.contextmanager
def forger(family):
    """Run the forger beside."""
    argv = [sys.executable, __file__, str(family), "forge"]
    with subprocess.Popen(argv, stdout=subprocess.PIPE) as process:
        process.stdout.readline()
        try:
            yield
        finally:
            process.send_signal(signal.SIGKILL)


def series(family):
    with linux_datagram.open_echo_socket(Binding(interface="lo"), HERE[family]) as sock:
        kind = sock._sock.type
        measured = measure_delay(
            sock,
            PLAN,
            timeline=Timeline.begin(SystemClock()),
            role=Role.GATEWAY,
            method="icmp-echo",
            address=HERE[family],
            family=family,
            within_s=10.0,
            running=Unattended(),
        )
    seen = measured.observed
    return {
        "raw": kind == socket.SOCK_RAW,
        "outcome": seen.outcome,
        "copies": seen.copies,
        "rtt_ms": seen.rtt_ms,
        "reason": measured.reason and measured.reason.code,
    }


def main(family):
    subprocess.run(["ip", "link", "set", "lo", "up"], check=True, timeout=10)
    found = {}
    with forger(family):
        for kind in ("raw", "datagram"):
            if kind == "datagram":
                GROUPS.write_text(f"{os.getegid()} {os.getegid()}")
            for beside, ignored in (("true", "0"), ("alone", "1")):
                IGNORE[family].write_text(ignored)
                found[f"{kind} {beside}"] = series(family)
    sys.stdout.write(json.dumps(found))


if __name__ == "__main__":
    (forge if sys.argv[2:] else main)(int(sys.argv[1]))
