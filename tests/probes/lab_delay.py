"""Two small programs for the delay lab: a stateful reflector, and a STAMP series that prints."""

import json
import select
import socket
import sys
import threading
import time

from agent.clock import SystemClock, Timeline, unix_ns
from agent.codec.stamp import ReflectorPacket, decode_sender, encode_reflector, ntp_from_unix_ns
from agent.engines.linux_datagram import open_stamp_socket
from agent.measurements import Role
from agent.ports.binding import Binding
from agent.ports.running import Unattended
from agent.probes.delay import measure_delay
from agent.settings.model import EchoPlan


def reflect():
    """Answer until standard input ends; the first line says the ports."""
    sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    sock.bind(("0.0.0.0", 0))
    sink = socket.create_server(("0.0.0.0", 0))
    threading.Thread(target=swallow, args=(sink,), daemon=True).start()
    sys.stdout.write(f"{sock.getsockname()[1]} {sink.getsockname()[1]}\n")
    sys.stdout.flush()
    count = 0
    while True:
        ready, _, _ = select.select([sock, sys.stdin], [], [])
        if sys.stdin in ready:
            return
        data, source = sock.recvfrom(2048)
        received_ns = unix_ns()
        sender = decode_sender(data)
        packet = ReflectorPacket(
            sequence=count,
            timestamp=ntp_from_unix_ns(unix_ns()),
            receive_timestamp=ntp_from_unix_ns(received_ns),
            sender_sequence=sender.sequence,
            sender_timestamp=sender.timestamp,
            sender_ttl=0,
        )
        count += 1
        sock.sendto(encode_reflector(packet, len(data)), source)


def swallow(sink):
    peer, _ = sink.accept()
    with peer:
        while peer.recv(1 << 16):
            pass


def push(address, port, stop):
    with socket.create_connection((address, port)) as sock:
        while not stop.is_set():
            sock.sendall(bytes(1 << 16))


def series(address, port, count, interval_s, sink):
    """Measure, filling the line upwards meanwhile when `sink` is a port."""
    stop = threading.Event()
    pusher = threading.Thread(target=push, args=(address, sink, stop))
    if sink:
        pusher.start()
        time.sleep(0.5)
    running = Unattended()
    began = time.process_time()
    with open_stamp_socket(Binding(interface="eth0"), address, port) as sock:
        measured = measure_delay(
            sock,
            EchoPlan(count=count, interval_s=interval_s, waiting_s=1.0),
            timeline=Timeline.begin(SystemClock()),
            role=Role.SERVER,
            method="stamp",
            address=address,
            family=4,
            within_s=30.0,
            running=running,
        )
    cpu_s = time.process_time() - began
    stop.set()
    seen = measured.observed
    found = {
        "state": measured.state,
        "clock": measured.clock,
        "rtt_ms": seen.rtt_ms,
        "outcome": seen.outcome,
        "far_received": seen.far_received,
        "cpu_s": cpu_s,
    }
    sys.stdout.write(json.dumps(found))


if __name__ == "__main__":
    if sys.argv[1] == "reflect":
        reflect()
    else:
        series(
            sys.argv[2], int(sys.argv[3]), int(sys.argv[4]), float(sys.argv[5]), int(sys.argv[6])
        )
