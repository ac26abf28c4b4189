"""Negotiated speed and duplex of a port, asked of its driver; any user may ask.

ETHTOOL_GLINKSETTINGS of linux/ethtool.h through SIOCETHTOOL: the first call tells how many words
the link-mode masks have, the second fills them. The ioctl answers in this network namespace, which
/sys does not when it was mounted in another.
"""

from __future__ import annotations

import array
import fcntl
import socket
import struct

SIOCETHTOOL = 0x8946
GET_LINK_SETTINGS = 0x4C
SETTINGS = struct.Struct("=II7Bb4B7I")
WORDS = 9
MOST_MASK_WORDS = 127
UNKNOWN_SPEED = 0xFFFFFFFF
DUPLEX = {0: "half", 1: "full"}
BPS_PER_MBPS = 1_000_000


def speed_and_duplex(interface: str) -> tuple[int | None, str | None]:
    """Return (bit/s, "full" or "half"); None for each that the driver does not tell."""
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
            words = -_settings(sock, interface, 0)[WORDS]
            if not 0 < words <= MOST_MASK_WORDS:
                return None, None
            found = _settings(sock, interface, words)
    except OSError:
        return None, None
    speed = None if found[1] in (0, UNKNOWN_SPEED) else found[1] * BPS_PER_MBPS
    return speed, DUPLEX.get(found[2])


def _settings(sock: socket.socket, interface: str, words: int) -> tuple[int, ...]:
    room = SETTINGS.size + 3 * 4 * MOST_MASK_WORDS
    head = SETTINGS.pack(GET_LINK_SETTINGS, *(0,) * 8, words, *(0,) * 11)
    buffer = array.array("B", head.ljust(room, b"\0"))
    address, _length = buffer.buffer_info()
    fcntl.ioctl(sock, SIOCETHTOOL, struct.pack("16sP16x", interface.encode()[:15], address))
    return SETTINGS.unpack_from(buffer)
