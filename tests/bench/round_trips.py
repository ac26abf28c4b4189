"""Print how far each means of delay is off the round trips that a capture at the laptop's port has.

Both ends of a captured round trip are the capture's own stamps; what the reflector says it took is
taken off on both sides. All means run in one loop, as in a visit, idle and with both directions of
the line full, as root (raw ICMP) and as a plain user (datagram ICMP). The bar is that 99 of 100
round trips lie within 0.1 ms of the capture, by every means that the kernel stamps. Arguments:
probes of each series (1000), seconds from one to the next (0.01).
"""

import contextlib
import io
import json
import os
import select
import signal
import socket
import sys
import threading
from pathlib import Path
from subprocess import PIPE

from practice_visits import table

from agent.clock import SystemClock, Timeline, unix_ns
from agent.codec.mark import find_mark
from agent.codec.stamp import (
    ReflectorPacket,
    decode_reflector,
    decode_sender,
    encode_reflector,
    ntp_from_unix_ns,
    unix_ns_from_ntp,
)
from agent.engines.linux_datagram import OPENERS, open_echo_socket
from agent.engines.waiting import wait_together
from agent.measurements import Role
from agent.ports.binding import Binding
from agent.ports.running import Unattended
from agent.practice.line import LineSpec
from agent.practice.network import PracticeNetwork
from agent.probes.delay import DelaySeries, measure_delays
from agent.settings.model import EchoPlan

ROOT = Path(__file__).resolve().parent.parent.parent
BAR_MS = 0.1
NO_GROUP = "net.ipv4.ping_group_range=1 0"
CLOSED_UDP = 33_434
ACCEPTED, RESET = "tcp-connect, accepted", "tcp-connect, reset"
METHODS = ("stamp", "icmp-echo", "udp-unreachable", ACCEPTED, RESET)


def far():
    """Be the far host: reflector, acceptor, source and sink, until standard input ends."""
    reflector = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    reflector.bind(("0.0.0.0", 0))
    closed = socket.socket()
    closed.bind(("0.0.0.0", 0))
    acceptor, source, sink = (socket.create_server(("0.0.0.0", 0), backlog=256) for _ in range(3))
    for listener, serve in ((acceptor, socket.socket.close), (source, pour), (sink, swallow)):
        threading.Thread(target=accept_all, args=(listener, serve), daemon=True).start()
    ports = [one.getsockname()[1] for one in (reflector, acceptor, closed, source, sink)]
    sys.stdout.write(" ".join(map(str, ports)) + "\n")
    sys.stdout.flush()
    while sys.stdin not in select.select([reflector, sys.stdin], [], [])[0]:
        reflect(reflector)


def accept_all(listener, serve):
    """Serve each connection in a thread of its own."""
    while True:
        peer, _ = listener.accept()
        threading.Thread(target=serve, args=(peer,), daemon=True).start()


def pour(peer):
    """Send until the other side goes."""
    with contextlib.suppress(OSError), peer:
        while True:
            peer.sendall(bytes(1 << 16))


def swallow(peer):
    """Read until the other side goes."""
    with contextlib.suppress(OSError), peer:
        while peer.recv(1 << 16):
            pass


def reflect(sock):
    """Answer one STAMP packet."""
    data, source = sock.recvfrom(2048)
    received_ns = unix_ns()
    sender = decode_sender(data)
    packet = ReflectorPacket(
        sequence=sender.sequence,
        timestamp=ntp_from_unix_ns(unix_ns()),
        receive_timestamp=ntp_from_unix_ns(received_ns),
        sender_sequence=sender.sequence,
        sender_timestamp=sender.timestamp,
        sender_ttl=0,
    )
    sock.sendto(encode_reflector(packet, len(data)), source)


def fill(address, source, sink):
    """Fill both directions until standard input ends; the first line says that they are full."""
    for port, serve in ((source, swallow), (sink, pour)):
        peer = socket.create_connection((address, int(port)))
        threading.Thread(target=serve, args=(peer,), daemon=True).start()
    select.select([sys.stdin], [], [], 2.0)
    sys.stdout.write("full\n")
    sys.stdout.flush()
    sys.stdin.read()


def near(address, count, interval_s, *ports):
    """Be the laptop: time the far host by all means in one loop and print what was found."""
    binding = Binding(interface="eth0")
    open_ports = map(int, ports)
    ports = dict(zip(("stamp", ACCEPTED, RESET), open_ports, strict=True))
    ports["udp-unreachable"] = CLOSED_UDP

    def opened(name):
        if name == "icmp-echo":
            return open_echo_socket(binding, address)
        return OPENERS[name.partition(",")[0]](binding, address, ports[name])

    plan = EchoPlan(count=int(count), interval_s=float(interval_s), waiting_s=1.0)
    series = [
        DelaySeries(
            socket=opened(name),
            plan=plan,
            role=Role.SERVER,
            method=name.partition(",")[0],
            address=address,
        )
        for name in METHODS
    ]
    found = measure_delays(
        series,
        wait_together,
        timeline=Timeline.begin(SystemClock()),
        within_s=120.0,
        running=Unattended(),
    )
    for one in series:
        one.socket.close()
    said = {
        name: {"clock": one.clock, "rtt_ms": one.observed.rtt_ms}
        for name, one in zip(METHODS, found, strict=True)
    }
    sys.stdout.write(json.dumps({"user": os.geteuid(), "series": said}))


@contextlib.contextmanager
def helper(host, *arguments):
    """Run this program on a host; yields the words of its first line and ends it after that."""
    with host.popen([sys.executable, __file__, *arguments], stdin=PIPE) as process:
        words = process.stdout.readline().split()
        assert words, process.stderr.read().decode()
        try:
            yield [word.decode() for word in words]
        finally:
            process.stdin.close()
            process.wait(10)


@contextlib.contextmanager
def capture(network):
    """Capture headers and probes at the laptop's port; yields a list that is filled at the end."""
    argv = "tcpdump -i eth0 -n -U --immediate-mode -B 65536 -s 160 --time-stamp-precision=nano -w -"
    # Bulk segments are left out: they would only make the capture drop probes.
    wanted = "icmp or udp or (tcp[tcpflags] & (tcp-syn|tcp-rst) != 0)"
    pieces, packets = [], []
    with network.laptop.popen([*argv.split(), wanted]) as process:
        while b"listening on" not in process.stderr.readline():
            pass
        reader = threading.Thread(target=lambda: pieces.append(process.stdout.read()))
        reader.start()
        yield packets
        process.send_signal(signal.SIGINT)
        reader.join(10)
        process.wait(10)
    packets.extend(packets_of(pieces[0]))


def packets_of(data):
    """Yield stamp in ns and IPv4 packet of each frame of a capture."""
    from scapy.utils import RawPcapReader

    for frame, meta in RawPcapReader(io.BytesIO(data)):
        if frame[12:14] == b"\x08\x00":
            yield meta.sec * 10**9 + meta.usec, frame[14:]


def witness(packets, ports):
    """Return the captured round trip of each number, in ms, by means."""
    trips = {name: Trips() for name in METHODS}
    reflector, acceptor, closed = ports
    for at_ns, packet in packets:
        segment = packet[(packet[0] & 15) * 4 :]
        if packet[9] == 1:
            from_icmp(trips, at_ns, segment)
        elif packet[9] == 17:
            from_udp(trips, at_ns, segment, reflector)
        else:
            from_tcp(trips, at_ns, segment, {acceptor: ACCEPTED, closed: RESET})
    return {name: one.rtt_ms() for name, one in trips.items()}


class Trips:
    """When each probe left and came back at the port."""

    def __init__(self):
        self.left, self.back = {}, {}

    def note(self, key, at_ns, *, out):
        """Note the first packet of a key each way."""
        if key is not None:
            (self.left if out else self.back).setdefault(key, at_ns)

    def rtt_ms(self):
        """Return the round trips by number, or in order of sending where keys are no numbers."""
        found = {
            key: (self.back[key] - self.left[key]) / 1e6 for key in self.left.keys() & self.back
        }
        if not all(isinstance(key, tuple) for key in self.left):
            return found
        # The first connection is the warm-up.
        order = {key: place - 1 for place, key in enumerate(sorted(self.left, key=self.left.get))}
        return {order[key]: rtt for key, rtt in found.items()}


def number_in(payload):
    """Return the number in a probe's mark, None for anything else."""
    mark = find_mark(payload)
    return mark and mark.number


def from_icmp(trips, at_ns, message):
    """Note an echo request, an echo reply, or a refusal."""
    if message[0] in {8, 0}:
        trips["icmp-echo"].note(number_in(message[8:]), at_ns, out=message[0] == 8)
    elif message[:2] == b"\x03\x03":
        quoted = message[8:]
        payload = quoted[(quoted[0] & 15) * 4 + 8 :]
        trips["udp-unreachable"].note(number_in(payload), at_ns, out=False)


def from_udp(trips, at_ns, datagram, reflector):
    """Note a STAMP packet of either side, or a datagram to the closed port."""
    source, target = (int.from_bytes(datagram[n : n + 2], "big") for n in (0, 2))
    payload = datagram[8:]
    if target == CLOSED_UDP:
        trips["udp-unreachable"].note(number_in(payload), at_ns, out=True)
    elif target == reflector:
        trips["stamp"].note(decode_sender(payload).sequence, at_ns, out=True)
    elif source == reflector:
        answer = decode_reflector(payload)
        inside = unix_ns_from_ntp(answer.timestamp) - unix_ns_from_ntp(answer.receive_timestamp)
        trips["stamp"].note(answer.sender_sequence, at_ns - inside, out=False)


def from_tcp(trips, at_ns, segment, names):
    """Note a SYN, or the SYN-ACK or RST that answers it; our own resets are neither."""
    source, target = (int.from_bytes(segment[n : n + 2], "big") for n in (0, 2))
    flags = segment[13] & 0x17
    if target in names and flags == 0x02:
        sequence = int.from_bytes(segment[4:8], "big")
        trips[names[target]].note((source, (sequence + 1) % 2**32), at_ns, out=True)
    elif source in names and flags in {0x12, 0x14}:
        acknowledged = int.from_bytes(segment[8:12], "big")
        trips[names[source]].note((target, acknowledged), at_ns, out=False)


def cell(count, interval_s, *, filled, plain):
    """Measure one cell; return the user, what the laptop found and what the capture has."""
    spec = LineSpec(down_bps=100_000_000, up_bps=20_000_000, rtt_ms=20, seed=3)
    with PracticeNetwork(spec) as network, contextlib.ExitStack() as stack:
        if not plain:
            # Echo is then raw: what is left to a root whose groups are not let in.
            done = network.laptop.run(["sysctl", "-q", "-w", NO_GROUP], timeout=10)
            assert done.returncode == 0, done.stderr
        address = network.server.address
        ports = stack.enter_context(helper(network.server, "far"))
        if filled:
            stack.enter_context(helper(network.laptop, "fill", address, *ports[3:]))
        packets = stack.enter_context(capture(network))
        argv = [sys.executable, __file__, "near", address, str(count), str(interval_s), *ports[:3]]
        done = network.laptop.run(argv, timeout=150, plain=plain)
        assert done.returncode == 0, done.stderr
    return json.loads(done.stdout), witness(packets, [int(port) for port in ports[:3]])


def row(name, found, captured):
    """Return a table row of one series, and whether the bar holds; None where it does not apply."""
    pairs = [(rtt, captured.get(n)) for n, rtt in enumerate(found["rtt_ms"]) if rtt is not None]
    errors = sorted(abs(rtt - seen) for rtt, seen in pairs if seen is not None)
    if not errors:
        return (name, found["clock"], "0", *["-"] * 4), False
    p99 = errors[int(0.99 * len(errors))]
    middle = sorted(captured.values())[len(captured) // 2]
    figures = (f"{errors[len(errors) // 2]:.4f}", f"{p99:.4f}", f"{errors[-1]:.4f}")
    cells = (name, found["clock"], f"{len(errors)} of {len(pairs)}", f"{middle:.2f}", *figures)
    return cells, p99 <= BAR_MS if found["clock"] == "kernel" else None


def main(count=1000, interval_s=0.01):
    """Run all cells and print the table."""
    os.environ["PYTHONPATH"] = str(ROOT)
    rows, kept = [], []
    for plain in (False, True):
        for filled in (False, True):
            found, captured = cell(int(count), float(interval_s), filled=filled, plain=plain)
            about = ("full" if filled else "idle", "user" if plain else "root")
            for name in METHODS:
                cells, holds = row(name, found["series"][name], captured[name])
                rows.append((*about, *cells))
                kept += [] if holds is None else [holds]
    errors = ("median error", "p99 error", "worst")
    table(("line", "as", "means", "clock", "n", "captured median", *errors), rows)
    sys.stdout.write(
        f"p99 within {BAR_MS} ms: {sum(kept)} of {len(kept)} series that the kernel stamps\n"
    )


if __name__ == "__main__":
    parts = {"far": far, "near": near, "fill": fill}
    if sys.argv[1:2] and sys.argv[1] in parts:
        parts[sys.argv[1]](*sys.argv[2:])
    else:
        main(*sys.argv[1:])
