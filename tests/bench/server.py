"""Print what fifty clients at once make of one server, and how long its reflector keeps a packet.

`clients` (needs root): a port of 1 Gbit/s and fifty lines behind it, all shaped on one veth pair by
htb in frames of 1514 octets for 1448 of payload (RFC 6349 §4.1.1, RFC 7323 §3.2). Every client
measures down, then up, and comes again. Its share is what it got of what its line alone carries: a
share below 0.97 that nobody warned of is a falsely low figure. The same again without a capacity
shows what the server's promise is worth.

`residence`: transmit stamp minus receive stamp of STAMP packets (RFC 8762 §4.3.1), idle and beside
three unlimited downloads over loopback.
"""

import http.client
import json
import os
import random
import re
import socket
import statistics
import struct
import subprocess
import sys
import threading
import time
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path

from practice_visits import table

from agent.codec.stamp import (
    SenderPacket,
    decode_reflector,
    encode_sender,
    ntp_from_unix_ns,
    unix_ns_from_ntp,
)

ROOT = Path(__file__).resolve().parents[2]
SERVER = "198.18.0.1"
PORT_MBPS = 1_000
LINES_MBPS = (20, 50, 100)
CLIENTS = 50
FRAME, PAYLOAD = 1514, 1448
DOWN_S, UP_S, RAMP_S = 4.0, 3.0, 1.0
# Longer than the server keeps a turn over a gap: who comes again queues again.
REST_S = (6.0, 12.0)
FAIR_SHARE = 0.97
PACKETS, SPACING_S = 1_000, 0.005
SO_TIMESTAMPNS = 35  # asm-generic/socket.h


def run(command, *, within, lines=()):
    """Run a command in a process's namespace, with lines for it to read."""
    text = "\n".join(lines)
    enter = ("nsenter", "-t", str(within), "-n")
    subprocess.run(
        [*enter, *command.split()], check=True, capture_output=True, input=text, text=True
    )


@contextmanager
def namespace():
    """Yield a process in a network namespace of its own; both are gone when this program is."""
    with subprocess.Popen(
        ["unshare", "-n", "sh", "-c", "echo; exec cat"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    ) as held:
        held.stdout.readline()
        try:
            yield held.pid
        finally:
            held.stdin.close()


def address(number):
    return f"198.18.0.{number + 10}"


def line_mbps(number):
    return LINES_MBPS[number % len(LINES_MBPS)]


def build(server, clients):
    """Join the two namespaces and shape the port and every line in both directions."""
    run("ip link add s0 type veth peer name c0", within=server)
    run(f"ip link set c0 netns {clients}", within=server)
    run(f"ip addr add {SERVER}/24 dev s0", within=server)
    held = [f"addr add {address(number)}/24 dev c0" for number in range(CLIENTS)]
    run("ip -batch -", within=clients, lines=held)
    for pid, device, side in ((server, "s0", "dst"), (clients, "c0", "src")):
        run("ip link set lo up", within=pid)
        run(f"ip link set {device} up", within=pid)
        run("tc -batch -", within=pid, lines=shaping(device, side))


def shaping(device, side):
    """Yield what gives a device the port's rate, and within it every line its own."""
    wide = "burst 256k cburst 256k quantum 60000"
    narrow = "burst 16k cburst 16k quantum 60000"
    add = f"class add dev {device}"
    yield f"qdisc add dev {device} root handle 1: htb default 2"
    yield f"{add} parent 1: classid 1:1 htb rate {PORT_MBPS}mbit {wide}"
    yield f"{add} parent 1:1 classid 1:2 htb rate 1mbit ceil {PORT_MBPS}mbit {wide}"
    for number in range(CLIENTS):
        ceiling, mark = f"{line_mbps(number)}mbit", f"1:{number + 16:x}"
        yield f"{add} parent 1:1 classid {mark} htb rate 1mbit ceil {ceiling} {narrow}"
        match = f"u32 match ip {side} {address(number)}/32 flowid {mark}"
        yield f"filter add dev {device} parent 1: protocol ip {match}"


@contextmanager
def serving(*options, within=None):
    """Yield a running `doorstep serve` and its port."""
    enter = () if within is None else ("nsenter", "-t", str(within), "-n")
    command = [*enter, sys.executable, "-m", "agent", "serve", "--port=0", "--reflector-port=0"]
    with subprocess.Popen([*command, *options], cwd=ROOT, stderr=subprocess.PIPE) as server:
        try:
            port = re.search(rb":(\d+) ", server.stderr.readline())[1]
            threading.Thread(target=server.stderr.read, daemon=True).start()
            yield server.pid, int(port)
        finally:
            server.terminate()


class Client:
    """One line's owner: measures, waits where asked to, comes again until the end."""

    def __init__(self, number, port, until_s, *, declares):
        self.number = number
        self.to = (SERVER, port)
        self.until_s = until_s
        self.rate = f"&rate={line_mbps(number) * 1_000_000}" if declares else ""
        self.shares, self.warned, self.waits, self.faults = [], 0, 0, 0
        self.waited_s = []

    def live(self):
        """Visit the server again and again."""
        time.sleep(random.uniform(0, REST_S[0]))
        while True:
            try:
                self.visit()
            except OSError:
                self.faults += 1
            rest_s = random.uniform(*REST_S)
            if time.monotonic() + rest_s + DOWN_S + UP_S > self.until_s:
                return
            time.sleep(rest_s)

    def visit(self):
        """Measure both directions once, and ask the card whether that was undisturbed."""
        asked_s = time.monotonic()
        while (down := self.down()) is None:
            if time.monotonic() + DOWN_S + UP_S > self.until_s:
                return
        self.waited_s.append(time.monotonic() - asked_s - DOWN_S)
        up = self.up()
        lowest = min(share for share in (down, up) if share is not None)
        crowded_s = self.card()["load"]["crowded_s"]
        if crowded_s is not None and crowded_s < DOWN_S + UP_S and lowest < FAIR_SHARE:
            self.warned += 1
        self.shares.append(lowest)

    def down(self):
        """Return the share of the line that a download got, None where the server said wait."""
        with closing(self.connect()) as sock:
            sock.sendall(
                f"GET /download?bytes=90000000000{self.rate} HTTP/1.1\r\nHost: x\r\n\r\n".encode()
            )
            if self.refused(sock):
                return None
            begun_s = time.monotonic()
            mark_s = mark = None
            count = 0
            buffer = bytearray(1_048_576)
            while (now_s := time.monotonic()) < begun_s + DOWN_S:
                if mark is None and now_s >= begun_s + RAMP_S:
                    mark_s, mark = now_s, count
                count += sock.recv_into(buffer, len(buffer), socket.MSG_TRUNC)
            return self.share((count - mark) / (now_s - mark_s))

    def up(self):
        """Return the same of an upload, by the server's count per tenth of a second."""
        length = int(line_mbps(self.number) * 125_000 * PAYLOAD / FRAME * UP_S)
        with closing(self.connect()) as sock:
            head = f"PUT /upload?run={os.urandom(8).hex()}{self.rate} HTTP/1.1\r\nHost: x\r\n"
            sock.sendall(f"{head}Content-Length: {length}\r\n\r\n".encode())
            body = bytes(65_536)
            while length:
                length -= sock.send(body[:length])
            answer = http.client.HTTPResponse(sock)
            answer.begin()
            slices = json.loads(answer.read())["slices_100ms"]
            steady = slices[5:-2]
            return self.share(sum(steady) / (len(steady) * 0.1))

    def card(self):
        """Return the server's card."""
        with closing(self.connect()) as sock:
            sock.sendall(b"GET /card HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
            answer = http.client.HTTPResponse(sock)
            answer.begin()
            return json.loads(answer.read())

    def refused(self, sock):
        """Return whether the server asks to wait, having waited."""
        head = sock.recv(4_096, socket.MSG_PEEK)
        if head.startswith(b"HTTP/1.1 200"):
            return False
        wait_s = int(re.search(rb"Retry-After: (\d+)", head)[1])
        self.waits += 1
        time.sleep(min(wait_s, max(0.0, self.until_s - time.monotonic())))
        return True

    def connect(self):
        """Return a connection from this client's own address."""
        return socket.create_connection(self.to, 20, (address(self.number), 0))

    def share(self, octets_per_s):
        return octets_per_s * FRAME / PAYLOAD / (line_mbps(self.number) * 125_000)


def crowd(port, seconds, declares):
    """Let all clients live at once and print what became of them as JSON."""
    until_s = time.monotonic() + seconds
    clients = [Client(n, port, until_s, declares=declares) for n in range(CLIENTS)]
    threads = [threading.Thread(target=client.live) for client in clients]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    print(json.dumps([vars(client) | {"to": None} for client in clients]))


def resources(pid):
    """Return the resident size in MiB and processor seconds of a server and its reflector."""
    pids = [pid, *map(int, Path(f"/proc/{pid}/task/{pid}/children").read_text().split())]
    pages = [int(Path(f"/proc/{p}/statm").read_text().split()[1]) for p in pids]
    ticks = [Path(f"/proc/{p}/stat").read_text().rsplit(")", 1)[1].split()[11:13] for p in pids]
    seconds = sum(int(value) for pair in ticks for value in pair) / os.sysconf("SC_CLK_TCK")
    return sum(pages) * os.sysconf("SC_PAGESIZE") / 2**20, seconds


def scenario(name, seconds, *options, declares=True):
    """Run fifty clients against one server and return the row of what became of them."""
    with ExitStack() as made:
        server, behind = (made.enter_context(namespace()) for _ in range(2))
        build(server, behind)
        pid, port = made.enter_context(serving(f"--host={SERVER}", *options, within=server))
        before_mb, before_s = resources(pid)
        command = [sys.executable, __file__, "crowd", str(port), str(seconds), str(int(declares))]
        living = subprocess.Popen(
            ["nsenter", "-t", str(behind), "-n", *command], stdout=subprocess.PIPE
        )
        time.sleep(seconds / 2)
        half_mb, _ = resources(pid)
        clients = json.loads(living.communicate()[0])
        after_mb, after_s = resources(pid)
    shares = sorted(share for client in clients for share in client["shares"])
    waited = [waited_s for client in clients for waited_s in client["waited_s"]]
    low = sum(share < FAIR_SHARE for share in shares)
    warned = sum(client["warned"] for client in clients)
    return (
        name,
        len(shares),
        sum(bool(client["shares"]) for client in clients),
        sum(client["waits"] for client in clients),
        f"{max(waited, default=0):.0f}",
        low,
        low - warned,
        f"{shares[0]:.3f}" if shares else "-",
        f"{statistics.median(shares):.3f}" if shares else "-",
        sum(client["faults"] for client in clients),
        f"{before_mb:.0f} {half_mb:.0f} {after_mb:.0f}",
        f"{(after_s - before_s) / seconds:.2f}",
    )


HEAD = (
    "clients",
    "visits",
    "served",
    "told to wait",
    "longest wait s",
    "low",
    "of them unwarned",
    "lowest share",
    "median share",
    "faults",
    "MiB before half after",
    "cores",
)


def clients_main(seconds):
    """Print the table of the clients."""
    capacity = f"--capacity={PORT_MBPS}M"
    rows = [
        scenario("declare their line", seconds, capacity),
        scenario("do not, largest known", seconds / 3, capacity, "--largest-line=100M", declares=0),
        scenario("do not, nothing known", seconds / 3, capacity, declares=0),
        scenario("no capacity known", seconds / 4),
    ]
    table(HEAD, rows)


def drain(port):
    """Take one unlimited download until killed."""
    with closing(socket.create_connection(("127.0.0.1", port))) as sock:
        sock.sendall(b"GET /download HTTP/1.1\r\nHost: x\r\n\r\n")
        buffer = bytearray(1_048_576)
        while sock.recv_into(buffer, len(buffer), socket.MSG_TRUNC):
            pass


@contextmanager
def load(port, flows):
    """Keep unlimited downloads running, each in a process of its own."""
    command = [sys.executable, __file__, "drain", str(port)]
    held = [subprocess.Popen(command) for _ in range(flows)]
    try:
        time.sleep(1.0)
        yield
    finally:
        for process in held:
            process.kill()
            process.wait()


def residence(name, port):
    """Return the row of one series of packets: residence, and round trip less residence."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    connection.request("POST", "/reflector")
    grant = json.loads(connection.getresponse().read())
    kept, beside = [], []
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as udp:
        udp.connect(("127.0.0.1", grant["port"]))
        udp.settimeout(2.0)
        udp.setsockopt(socket.SOL_SOCKET, SO_TIMESTAMPNS, 1)
        for number in range(PACKETS):
            sent_ns = time.time_ns()
            stamp = ntp_from_unix_ns(sent_ns)
            packet = SenderPacket(sequence=number, timestamp=stamp, ssid=grant["ssid"])
            udp.send(encode_sender(packet))
            try:
                data, ((_, _, told),), _, _ = udp.recvmsg(2_048, 64)
            except TimeoutError:
                continue
            seconds, rest = struct.unpack("@qq", told[:16])
            inside_ns = residence_ns(decode_reflector(data))
            kept.append(inside_ns / 1e6)
            beside.append((seconds * 1_000_000_000 + rest - sent_ns - inside_ns) / 1e6)
            time.sleep(SPACING_S)
    return (name, len(kept), *map(figures, (kept, beside)))


def residence_ns(answer):
    """Return how long the reflector kept a packet by its own stamps."""
    received_ns = unix_ns_from_ntp(answer.receive_timestamp)
    return unix_ns_from_ntp(answer.timestamp) - received_ns


def figures(values):
    """Return median, 99th percentile and maximum as text."""
    cut = statistics.quantiles(values, n=100)
    return f"{cut[49]:.3f} {cut[98]:.3f} {max(values):.3f}"


def residence_main():
    """Print the table of the reflector."""
    rows = []
    with serving("--host=127.0.0.1") as (_, port):
        rows.append(residence("idle", port))
        with load(port, 3):
            rows.append(residence("three flows", port))
    table(("load", "answered", "inside ms p50 p99 max", "outside ms p50 p99 max"), rows)


def main():
    """Run what the first argument names; without one, both tables."""
    what = sys.argv[1] if len(sys.argv) > 1 else "all"
    if what == "crowd":
        crowd(int(sys.argv[2]), float(sys.argv[3]), sys.argv[4] == "1")
    elif what == "drain":
        drain(int(sys.argv[2]))
    if what in {"residence", "all"}:
        residence_main()
    if what in {"clients", "all"}:
        clients_main(float(sys.argv[2]) if len(sys.argv) > 2 else 60.0)


if __name__ == "__main__":
    main()
