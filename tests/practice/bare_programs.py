"""Bare socket programs for the hosts of a practice network; results as JSON on standard output.

echo-server ADDRESS            says its port, then returns every datagram
echo ADDRESS PORT COUNT GAP_S  sends numbered datagrams on a fixed clock, prints what came back
source ADDRESS FLOWS           says its port, then fills every connection that comes
sink ADDRESS PORT FLOWS SKIP_S SECONDS  drains and prints the payload rate after the skipped time
push / drain                   the same with the roles of the ends changed
"""

import json
import select
import socket
import struct
import sys
import threading
import time

BLOCK = bytes(1 << 18)


def say(value):
    sys.stdout.write(json.dumps(value) + "\n")
    sys.stdout.flush()


def echo_server(address):
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as server:
        server.bind((address, 0))
        say(server.getsockname()[1])
        while True:
            data, client = server.recvfrom(2048)
            server.sendto(data, client)


def echo(address, port, count, gap_s):
    count, gap_s = int(count), float(gap_s)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as client:
        client.connect((address, int(port)))
        sent, back = [], []
        start = time.monotonic()
        end = start + count * gap_s + 0.5
        while (now := time.monotonic()) < end:
            if len(sent) < count and now >= start + len(sent) * gap_s:
                sent.append(time.monotonic())
                client.send(struct.pack("!I", len(sent) - 1).ljust(64, b"\0"))
            due = start + len(sent) * gap_s if len(sent) < count else end
            if select.select([client], [], [], max(0, due - time.monotonic()))[0]:
                number = struct.unpack("!I", client.recv(2048)[:4])[0]
                back.append((number, (time.monotonic() - sent[number]) * 1000))
    say({"sent": len(sent), "back": back})


def _fill(stream):
    try:
        while True:
            stream.sendall(BLOCK)
    except OSError:
        stream.close()


def _count(stream, counts, place):
    buffer = bytearray(1 << 18)
    try:
        while size := stream.recv_into(buffer):
            counts[place] += size
    except OSError:
        pass
    stream.close()


def _rate(streams, skip_s, seconds):
    counts = [0] * len(streams)
    for place, stream in enumerate(streams):
        threading.Thread(target=_count, args=(stream, counts, place), daemon=True).start()
    time.sleep(skip_s)
    before, begun = sum(counts), time.monotonic()
    time.sleep(seconds)
    after, ended = sum(counts), time.monotonic()
    say({"payload_bps": (after - before) * 8 / (ended - begun)})


def source(address, flows):
    with socket.create_server((address, 0)) as server:
        say(server.getsockname()[1])
        while True:
            stream, _ = server.accept()
            threading.Thread(target=_fill, args=(stream,), daemon=True).start()


def sink(address, port, flows, skip_s, seconds):
    streams = [socket.create_connection((address, int(port))) for _ in range(int(flows))]
    _rate(streams, float(skip_s), float(seconds))


def drain(address, flows, skip_s, seconds):
    with socket.create_server((address, 0)) as server:
        say(server.getsockname()[1])
        streams = [server.accept()[0] for _ in range(int(flows))]
        _rate(streams, float(skip_s), float(seconds))


def push(address, port, flows):
    streams = [socket.create_connection((address, int(port))) for _ in range(int(flows))]
    threads = [threading.Thread(target=_fill, args=(stream,), daemon=True) for stream in streams]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


if __name__ == "__main__":
    name, *rest = sys.argv[1:]
    globals()[name.replace("-", "_")](*rest)
