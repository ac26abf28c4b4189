"""Bare sockets on the laptop: who answers at a distance, and which sizes pass. Prints JSON.

Linux's IP_RECVERR and its twin of IPv6 give ICMP errors to a plain user; the numbers are those of
linux/in.h and linux/errqueue.h, the ICMP types those of RFC 792 and RFC 4443.
"""

import json
import select
import socket
import struct
import sys
import time
from dataclasses import dataclass

MSG_ERRQUEUE, PROBE = 0x2000, 3
CLOSED_PORT = 40_000
WEB_PORT = 80
PATIENCE_S = 0.5


@dataclass(frozen=True)
class Family:
    """The numbers of one family: options, headers of IP and UDP, where the offender stands."""

    kind: int
    level: int
    errors: int
    discover: int
    hop_limit: int
    headers: int
    offender: slice
    too_large: tuple[int, int]


FAMILIES = {
    False: Family(socket.AF_INET, socket.SOL_IP, 11, 10, socket.IP_TTL, 28, slice(20, 24), (3, 4)),
    True: Family(
        socket.AF_INET6,
        socket.IPPROTO_IPV6,
        25,
        23,
        socket.IPV6_UNICAST_HOPS,
        48,
        slice(24, 40),
        (2, 0),
    ),
}


def asked(target, hop_limit, size):
    """Send one datagram; return who sent an ICMP error about it, and what that says of a size."""
    family = FAMILIES[":" in target]
    with socket.socket(family.kind, socket.SOCK_DGRAM) as sock:
        sock.setsockopt(family.level, family.errors, 1)
        sock.setsockopt(family.level, family.discover, PROBE)
        sock.setsockopt(family.level, family.hop_limit, hop_limit)
        sock.connect((target, CLOSED_PORT))
        sock.send(bytes(size - family.headers))
        deadline = time.monotonic() + PATIENCE_S
        while (left := deadline - time.monotonic()) > 0:
            select.select([sock], [], [], left)
            try:
                items = sock.recvmsg(100, 200, MSG_ERRQUEUE)[1]
            except BlockingIOError:
                continue
            data = items[0][2]
            _, _, kind, code, _, info, _ = struct.unpack_from("=IBBBBII", data)
            return socket.inet_ntop(family.kind, data[family.offender]), (kind, code), info
    return None


def walk(target, last):
    found = [asked(target, distance, 60) for distance in range(1, int(last) + 1)]
    return [one and one[0] for one in found]


def row(target, distance, count):
    return sum(asked(target, int(distance), 60) is not None for _ in range(int(count)))


def sizes(target, *candidates):
    found = {size: asked(target, 64, int(size)) for size in candidates}
    # Any other error comes from the closed port of the target: the packet passed whole.
    too_large = FAMILIES[":" in target].too_large
    return {
        size: [one[0], one[2]] if one and one[1] == too_large else None
        for size, one in found.items()
    }


def segment(_, host):
    with socket.create_connection((host, WEB_PORT), timeout=3) as sock:
        return sock.getsockopt(socket.IPPROTO_TCP, socket.TCP_MAXSEG)


if __name__ == "__main__":
    address, job, *rest = sys.argv[1:]
    found = globals()[job](address, *rest)
    sys.stdout.write(json.dumps({"answered" if job == "row" else job: found}))
