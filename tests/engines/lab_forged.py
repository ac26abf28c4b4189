"""Forges router answers with extensions on the loopback of a namespace of its own.

Prints what the product's path socket hands over for each, as JSON. Needs the right to raw
sockets inside the namespace only; the socket under test uses none.
"""

import json
import socket
import subprocess
import sys

from scapy.layers.inet import IP, UDP
from scapy.layers.inet6 import IPv6

from agent.codec.checksum import checksum
from agent.engines.linux_datagram import open_path_socket
from agent.ports.binding import Binding
from agent.ports.datagram import Failed

PORT = 33434
PAYLOAD = b"own payload".ljust(24, b".")
# RFC 4950 §5: label 100048, bottom of stack, TTL 1.
LABELS = bytes.fromhex("2000c588 00080101 186d0101")


def message(family, quote, extensions, announced):
    """RFC 4884 §4: the length in 32-bit words in octet 6, or 64-bit words in octet 5."""
    length = len(quote) // (4 if family == 4 else 8) if announced else 0
    kind = bytes([11 if family == 4 else 3, 0, 0, 0])
    word = bytes([0, length, 0, 0]) if family == 4 else bytes([length, 0, 0, 0])
    whole = kind + word + quote + extensions
    return whole[:2] + checksum(whole).to_bytes(2, "big") + whole[4:]


def forge(family, extensions, *, announced=True, cut=None):
    address, header = ("127.0.0.1", IP) if family == 4 else ("::1", IPv6)
    with open_path_socket(Binding(interface="lo"), address, PORT) as sock:
        own = sock._sock.getsockname()[1]
        udp = UDP(sport=own, dport=PORT) / PAYLOAD
        quote = bytes(header(src=address, dst=address) / udp)[:cut]
        quote = quote if cut else quote.ljust(128, b"\0")
        protocol = socket.IPPROTO_ICMP if family == 4 else socket.IPPROTO_ICMPV6
        kinds = {4: socket.AF_INET, 6: socket.AF_INET6}
        with socket.socket(kinds[family], socket.SOCK_RAW, protocol) as raw:
            raw.sendto(message(family, quote, extensions, announced), (address, 0))
        for _ in range(20):
            for event in sock.poll(0.2):
                if isinstance(event, Failed):
                    return {"quoted": event.quoted.hex(), "extensions": event.extensions.hex()}
    return None


def main():
    subprocess.run(["ip", "link", "set", "lo", "up"], check=True, timeout=10)
    found = {
        f"{family} {name}": forge(family, **case)
        for family in (4, 6)
        for name, case in {
            "announced": {"extensions": LABELS},
            "unannounced": {"extensions": LABELS, "announced": False},
            "none": {"extensions": b""},
            "short": {"extensions": b"", "announced": False, "cut": 28 if family == 4 else 48},
        }.items()
    }
    sys.stdout.write(json.dumps({"payload": PAYLOAD.hex(), "found": found}))


if __name__ == "__main__":
    main()
