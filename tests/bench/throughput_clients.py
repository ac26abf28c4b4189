"""One transfer by one means, printed as JSON: what tests/bench/throughput.py lets run.

MEANS DIRECTION ADDRESS FLOWS SECONDS [ROOT [CONGESTION]]; ROOT is the file of a trusted root, "-"
for plain TCP; 0 flows leave flows and length to the product's own plan. Prints bits per second over
the time after the first quarter, and processor seconds per Gbit of it; "ours" prints what the
product itself states.
"""

import json
import socket
import ssl
import sys
import threading
import time

from two_hosts import BODY_BYTES, NAME, PLAIN_PORT, TLS_PORT

BLOCK = 262_144
RAMP = 0.25


class Counting:
    """Octets counted by threads, each in a place of its own."""

    def __init__(self, flows):
        self.counts = [0] * flows

    def over(self, seconds):
        """Return what came, in how long, at what processor time, after the ramp."""
        time.sleep(seconds * RAMP)
        octets, at, busy = sum(self.counts), time.monotonic(), time.process_time()
        time.sleep(seconds * (1 - RAMP))
        octets = sum(self.counts) - octets
        spent, busy = time.monotonic() - at, time.process_time() - busy
        return {"bps": octets * 8 / spent, "core_per_gbit": busy / (octets * 8 / 1e9)}


def dial(address, root):
    """Return a connection, under TLS where a root is given."""
    if root is None:
        return socket.create_connection((address, PLAIN_PORT))
    context = ssl.create_default_context(cafile=root)
    sock = socket.create_connection((address, TLS_PORT))
    return context.wrap_socket(sock, server_hostname=NAME)


def each(flows, carry):
    """Start a thread for every flow."""
    for place in range(flows):
        threading.Thread(target=carry, args=(place,), daemon=True).start()


def bare_down(address, flows, seconds, root):
    """Drain with nothing but recv_into, without a copy where the kernel can."""
    counting = Counting(flows)
    flags = 0 if root else socket.MSG_TRUNC

    def carry(place):
        counts, buffer = counting.counts, memoryview(bytearray(BLOCK))
        sock = dial(address, root)
        sock.sendall(b"GET /down.bin HTTP/1.1\r\nHost: x\r\n\r\n")
        sock.recv_into(buffer, BLOCK)
        while True:
            counts[place] += sock.recv_into(buffer, BLOCK, flags)

    each(flows, carry)
    return counting.over(seconds)


def bare_up(address, flows, seconds, root):
    """Send with nothing but sendall."""
    counting = Counting(flows)

    def carry(place):
        counts, block = counting.counts, memoryview(bytes(BLOCK))
        sock = dial(address, root)
        while True:
            head = f"PUT /up/{place} HTTP/1.1\r\nHost: x\r\nContent-Length: {BODY_BYTES}\r\n\r\n"
            sock.sendall(head.encode())
            for _ in range(BODY_BYTES // BLOCK):
                sock.sendall(block)
                counts[place] += BLOCK
            sock.recv(BLOCK)

    each(flows, carry)
    return counting.over(seconds)


def httpx_down(address, flows, seconds, root):
    """Iterate over the raw pieces that httpx hands out."""
    import httpx

    counting = Counting(flows)
    verify = ssl.create_default_context(cafile=root) if root else False

    def carry(place):
        counts = counting.counts
        url = base(address, root) + "/down.bin"
        extensions = {"sni_hostname": NAME} if root else {}
        with (
            httpx.Client(verify=verify, trust_env=False) as client,
            client.stream("GET", url, extensions=extensions) as answer,
        ):
            for piece in answer.iter_raw():
                counts[place] += len(piece)

    each(flows, carry)
    return counting.over(seconds)


def pycurl_down(address, flows, seconds, root):
    """Let libcurl call back with every piece."""
    import pycurl

    counting = Counting(flows)

    def carry(place):
        counts = counting.counts

        def arrived(data):
            counts[place] += len(data)

        curl = pycurl.Curl()
        curl.setopt(pycurl.URL, base(address, root, named=True) + "/down.bin")
        curl.setopt(pycurl.RESOLVE, [f"{NAME}:{TLS_PORT}:{address}"])
        curl.setopt(pycurl.BUFFERSIZE, 524_288)
        curl.setopt(pycurl.NOSIGNAL, 1)
        if root:
            curl.setopt(pycurl.CAINFO, root)
        curl.setopt(pycurl.WRITEFUNCTION, arrived)
        curl.perform()

    each(flows, carry)
    return counting.over(seconds)


def aiohttp_down(address, flows, seconds, root):
    """Iterate over the pieces of aiohttp in one event loop."""
    import asyncio

    import aiohttp

    counting = Counting(flows)

    async def carry(client, place):
        context = ssl.create_default_context(cafile=root) if root else False
        url = base(address, root) + "/down.bin"
        async with client.get(url, ssl=context, server_hostname=NAME if root else None) as answer:
            async for piece in answer.content.iter_any():
                counting.counts[place] += len(piece)

    async def all_flows():
        timeout = aiohttp.ClientTimeout(total=None)
        async with aiohttp.ClientSession(timeout=timeout, read_bufsize=BLOCK) as client:
            await asyncio.gather(*(carry(client, place) for place in range(flows)))

    threading.Thread(target=lambda: asyncio.run(all_flows()), daemon=True).start()
    return counting.over(seconds)


def base(address, root, *, named=False):
    """Return the URL of the server."""
    if root is None:
        return f"http://{address}:{PLAIN_PORT}"
    return f"https://{NAME if named else address}:{TLS_PORT}"


class OneName:
    """A names port that knows the server."""

    def __init__(self, address):
        self.address = address

    def resolve(self, name, _family, _within_s):
        return (self.address if name == NAME else name,)


def ours(direction, address, flows, seconds, root, *, congestion):
    """Measure with the product: its engine, its schedule, its statistics."""
    from agent.clock import SystemClock, Timeline
    from agent.engines.bulk import BulkEngine
    from agent.engines.http import HttpxEngine
    from agent.measurements import Direction
    from agent.ports.binding import Binding
    from agent.ports.running import Unattended
    from agent.probes.throughput import measure_throughput
    from agent.settings.model import ThroughputPlan
    from agent.stats.throughput import throughput_statistics

    context = ssl.create_default_context(cafile=root) if root else None
    engine = HttpxEngine(
        Binding(), OneName(address), context=context, congestion_control=congestion
    )
    way = Direction(direction)
    plan = ThroughputPlan(max_bytes=1 << 40)
    if flows:
        plan = plan.model_copy(update={"mode": "fixed", "flows": flows, "seconds": seconds})
    measured = measure_throughput(
        BulkEngine(engine),
        plan,
        direction=way,
        url=base(address, root, named=True) + ("/down.bin" if direction == "down" else "/up/"),
        token=None,
        timeline=Timeline.begin(SystemClock()),
        within_s=30.0,
        running=Unattended(),
    )
    seen = measured.observed
    if seen is None or measured.reason is not None:
        return {"fault": str(measured.reason)}
    found = throughput_statistics(seen, way)
    cut = next(i for i, end in enumerate(seen.slice_end_s) if end > seen.slice_end_s[-1] * RAMP)
    span = seen.slice_end_s[-1] - seen.slice_end_s[cut - 1]
    bps = sum(seen.slice_bytes[cut:]) * 8 / span
    return {
        "bps": bps,
        "core_per_gbit": seen.cpu_ratio / (bps / 1e9),
        "goodput_bps": found.goodput_bps,
        "low_bps": found.low_bps,
        "high_bps": found.high_bps,
        "flows": seen.flows,
        "seconds": seen.slice_end_s[-1],
        "used_s": found.used_s,
        "ended": seen.ended.value,
        "congestion": seen.congestion_control,
    }


def main(means, direction, address, *numbers):
    """Run one transfer and print what came of it."""
    flows, seconds, *rest = numbers
    root, congestion = (None if part == "-" else part for part in (*rest, "-", "-")[:2])
    flows, seconds = int(flows), float(seconds)
    if means == "ours":
        result = ours(direction, address, flows, seconds, root, congestion=congestion)
    else:
        result = globals()[f"{means}_{direction}"](address, flows, seconds, root)
    sys.stdout.write(json.dumps(result) + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main(*sys.argv[1:])
