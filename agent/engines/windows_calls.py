"""The calls of the Windows IP helper library that send echo for a plain user.

Written after the vendor's reference of IcmpSendEcho2Ex, Icmp6SendEcho2 and GetBestRoute; never run
on a real system.
"""

from __future__ import annotations

import ctypes
import socket
import struct
from typing import Any

from agent.codec.windows_echo import buffer_bytes
from agent.engines.windows_echo import EchoCall
from agent.errors import NotTaken

INVALID_HANDLE = ctypes.c_void_p(-1).value
ROUTE_BYTES = 56
_INET6 = 23
ANY = "0.0.0.0"  # noqa: S104 - the system chooses the source; nothing is bound


class _Options(ctypes.Structure):
    """IP_OPTION_INFORMATION of the program's own width."""

    _fields_ = (
        ("ttl", ctypes.c_ubyte),
        ("tos", ctypes.c_ubyte),
        ("flags", ctypes.c_ubyte),
        ("options_size", ctypes.c_ubyte),
        ("options", ctypes.c_void_p),
    )


class IpHelper:
    """Blocking calls, each good for any thread."""

    def __init__(self) -> None:
        self._library: Any = ctypes.WinDLL("iphlpapi", use_last_error=True)  # type: ignore[attr-defined]
        for name in ("IcmpCreateFile", "Icmp6CreateFile"):
            getattr(self._library, name).restype = ctypes.c_void_p
        self._library.IcmpCloseHandle.argtypes = [ctypes.c_void_p]

    def open(self, family: int) -> int:
        """Return a handle for echo of a family. Raises NotTaken."""
        name = "IcmpCreateFile" if family == 4 else "Icmp6CreateFile"
        handle = getattr(self._library, name)()
        if handle in (None, INVALID_HANDLE):
            raise NotTaken(address="the IP helper library", problem=f"{name} gives no handle")
        return int(handle)

    def close(self, handle: int) -> None:
        """Give a handle back."""
        self._library.IcmpCloseHandle(handle)

    def echo(self, handle: int, asked: EchoCall) -> tuple[bytes, int]:
        """Send one echo, wait for its end, return the reply buffer and where it stood.

        The buffer is empty where nothing came back.
        """
        family = 6 if ":" in asked.target else 4
        size = buffer_bytes(family, len(asked.payload))
        buffer = ctypes.create_string_buffer(size)
        options = _Options(ttl=asked.hop_limit)
        call = self._library.IcmpSendEcho2Ex if family == 4 else self._library.Icmp6SendEcho2
        found = call(
            ctypes.c_void_p(handle),
            None,
            None,
            None,
            *_ends(asked.source, asked.target, family),
            asked.payload,
            ctypes.c_ushort(len(asked.payload)),
            ctypes.byref(options),
            buffer,
            size,
            asked.waiting_ms,
        )
        return (buffer.raw if found else b"", ctypes.addressof(buffer))

    def best_route(self, address: str) -> bytes:
        """Return the MIB_IPFORWARDROW towards an IPv4 address, empty where there is none."""
        row = ctypes.create_string_buffer(ROUTE_BYTES)
        failed = self._library.GetBestRoute(_number(address), 0, row)
        return b"" if failed else row.raw


def _ends(source: str | None, target: str, family: int) -> tuple[Any, Any]:
    """Return source and target as the two calls want them: numbers, or pointers to sockaddrs."""
    if family == 4:
        return _number(source or ANY), _number(target)
    return _sockaddr_6(source or "::"), _sockaddr_6(target)


def _number(address: str) -> int:
    return int(struct.unpack("<I", socket.inet_aton(address))[0])


def _sockaddr_6(address: str) -> Any:
    plain, _, zone = address.partition("%")
    scope = int(zone) if zone.isdigit() else 0
    packed = struct.pack("<HHI16sI", _INET6, 0, 0, socket.inet_pton(socket.AF_INET6, plain), scope)
    return ctypes.create_string_buffer(packed, len(packed))
