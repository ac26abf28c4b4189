"""Resolvers on macOS, from the file that the system keeps for programs of old.

It names the resolvers of the primary service only, and leases are told by no call without rights
that is documented as lasting: they stay unknown. Never run on a real system.
"""

from __future__ import annotations

from pathlib import Path

from agent.codec.lease_files import nameservers
from agent.engines.linux_sysfs import read_text
from agent.measurements import LeaseFacts


class MacTold:
    """What the files under `root` say; see `Told`."""

    def __init__(self, root: Path = Path("/")) -> None:
        self._root = root

    def lease(self, address: str) -> LeaseFacts | None:  # noqa: ARG002 - nothing is told of any
        """Return None: no file tells of leases."""
        return None

    def resolvers(self, addresses: tuple[str, ...]) -> tuple[str, ...]:  # noqa: ARG002 - one file
        """Return the resolvers of the primary service."""
        return nameservers(read_text(self._root / "etc/resolv.conf") or "")
