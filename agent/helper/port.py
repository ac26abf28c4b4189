"""A raw socket on one port, and whose port it is."""

from __future__ import annotations

import contextlib
import fcntl
import select
import socket
import struct
from pathlib import Path
from typing import Self

from agent.helper.fields import Refusal

SIOCGIFHWADDR = 0x8927
LARGEST = 2048
HEADER = 14
SOL_PACKET, PACKET_ADD_MEMBERSHIP, PACKET_MR_MULTICAST = 263, 1, 0
"""linux/if_packet.h."""

EVERYONE = b"\xff" * 6
PORTS = Path("/sys/class/net")


def own_address(interface: str) -> bytes:
    """Return the hardware address of a port. Raises OSError where there is no such port."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        asked = struct.pack("256s", interface.encode()[:15])
        return fcntl.ioctl(sock, SIOCGIFHWADDR, asked)[18:24]


def refuse_other(interface: str, hardware_address: bytes) -> None:
    """Raise Refusal where the hardware address is not the port's own, OSError for the port."""
    if own_address(interface) != hardware_address:
        raise Refusal("hardware_address is not the port's own")


def own_addresses(ports: Path = PORTS) -> frozenset[bytes]:
    """Return the hardware addresses of all ports of this computer."""
    found = set()
    for file in ports.glob("*/address"):
        with contextlib.suppress(OSError, ValueError):
            found.add(bytes.fromhex(file.read_text(encoding="ascii").strip().replace(":", "")))
    return frozenset(found)


class RawPort:
    """Frames of one Ethernet type on one port, never promiscuous; of groups only those joined."""

    def __init__(self, interface: str, ethertype: int) -> None:
        """Open the port. Raises PermissionError without the right, OSError for the port."""
        self._ethertype = ethertype.to_bytes(2)
        self._socket = socket.socket(socket.AF_PACKET, socket.SOCK_RAW, 0)
        try:
            self._socket.bind((interface, ethertype))
            self._socket.setblocking(False)
        except OSError:
            self._socket.close()
            raise

    def join(self, interface: str, group: bytes) -> None:
        """Hear what is sent to a group until closed, as if the system did. Raises OSError."""
        asked = struct.pack(
            "iHH8s", socket.if_nametoindex(interface), PACKET_MR_MULTICAST, 6, group
        )
        self._socket.setsockopt(SOL_PACKET, PACKET_ADD_MEMBERSHIP, asked)

    def send(self, source: bytes, body: bytes, destination: bytes = EVERYONE) -> None:
        """Send one frame, to everyone on the link unless told otherwise. Raises OSError."""
        self._socket.send(destination + source + self._ethertype + body)

    def receive(self, within_s: float) -> tuple[bytes, bytes] | None:
        """Return (sender, body) of the next frame, None where none comes in time."""
        if not select.select((self._socket,), (), (), max(0.0, within_s))[0]:
            return None
        try:
            frame = self._socket.recv(LARGEST)
        except BlockingIOError:
            return None
        return frame[6:12], frame[HEADER:]

    def close(self) -> None:
        """Close the socket."""
        self._socket.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
