"""Leases and resolvers on macOS: what its own client prints, and the file kept for old programs.

The client prints the server's last message; when it came is told by no documented call without
rights, so obtained and expires stay unknown. The file names the resolvers of the primary service
only. Never run on a real system.
"""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

from agent.codec.lease_files import nameservers
from agent.codec.macos_lease import packet_lease
from agent.engines.linux_sysfs import read_text
from agent.measurements import LeaseFacts

SOURCE = "ipconfig"
PROGRAM = "/usr/sbin/ipconfig"
WITHIN_S = 1.0
MOST_CHARACTERS = 65_536


def printed_packet(interface: str) -> str:
    """Return what the system's client prints of an interface, nothing where it does not."""
    try:
        done = subprocess.run(
            [PROGRAM, "getpacket", interface],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=WITHIN_S,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return done.stdout.decode(errors="replace")[:MOST_CHARACTERS]


class MacTold:
    """What the client and the files under `root` say; see `Told`."""

    def __init__(
        self, root: Path = Path("/"), packet: Callable[[str], str] = printed_packet
    ) -> None:
        self._root = root
        self._packet = packet

    def lease(self, address: str, interface: str) -> LeaseFacts | None:
        """Return the lease of an address that the interface really holds, else None."""
        said = packet_lease(self._packet(interface))
        if said is None or said.address != address:
            return None
        told: dict[str, Any] = {
            "gateway": said.routers[0] if said.routers else None,
            "dns": said.dns or None,
            "server_id": said.server_id,
            "lease_s": said.lease_s,
            "t1_s": said.t1_s,
            "t2_s": said.t2_s,
            "leased_routers": said.routers if said.whole else None,
            "leased_dns": said.dns if said.whole else None,
        }
        named = {name: value for name, value in told.items() if value is not None}
        sources = dict.fromkeys(("origin", *named), SOURCE)
        return LeaseFacts(family=4, origin="dhcp", address=address, sources=sources, **named)

    def resolvers(self, addresses: tuple[str, ...]) -> tuple[str, ...]:  # noqa: ARG002 - one file
        """Return the resolvers of the primary service."""
        return nameservers(read_text(self._root / "etc/resolv.conf") or "")
