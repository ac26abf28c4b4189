"""The server's message as macOS prints it: `ipconfig getpacket INTERFACE`.

The manual ipconfig(8) says that the command is for looking into faults and may change, so whatever
is not there stays None. Form from memory; never run on a real system.
"""

from __future__ import annotations

import re

from agent.codec.lease_files import FiledLease, address_of, addresses_of, prefix_of

LINE = re.compile(r"(\w{1,60})(?: \(\w{1,20}\):| =) ?(.*)")
MOST_LINES = 200


def packet_lease(text: str) -> FiledLease | None:
    """Return the lease in the printed message; None where it gives no address."""
    rows = (LINE.fullmatch(line.strip()) for line in text.splitlines()[:MOST_LINES])
    said = {row[1]: row[2].strip(" {}") for row in rows if row}
    address = address_of(said.get("yiaddr"))
    if address is None or address == "0.0.0.0":  # noqa: S104 - compared, not bound
        return None
    return FiledLease(
        address=address,
        whole="server_identifier" in said,
        prefix=prefix_of(said.get("subnet_mask")),
        routers=addresses_of(said.get("router")),
        dns=addresses_of(said.get("domain_name_server")),
        server_id=address_of(said.get("server_identifier")),
        lease_s=_hexadecimal(said.get("lease_time")),
        t1_s=_hexadecimal(said.get("renewal_t1_time_value")),
        t2_s=_hexadecimal(said.get("rebinding_t2_time_value")),
    )


def _hexadecimal(value: str | None) -> int | None:
    found = re.fullmatch(r"0x([0-9a-fA-F]{1,8})", value or "")
    return int(found[1], 16) if found else None
