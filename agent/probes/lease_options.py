"""What the DISCOVER says of this laptop: settings as the options' raw values."""

from __future__ import annotations

from agent.codec.dhcp_options import Option, Options
from agent.settings.model import LeasePlan

RAW = "hex:"
NO_HARDWARE = b"\0"
"""The type of an identifier that is no hardware address (RFC 2132 §9.14)."""


def stated_options(plan: LeasePlan) -> Options:
    """Return options 60 and 61 (RFC 2132 §9.13, §9.14), 77 (RFC 3004) and 125 (RFC 3925) as set.

    Text becomes the form of its option; what is written as raw bytes is taken as it is.
    """
    written = (
        (Option.VENDOR_CLASS, plan.vendor_class, b""),
        (Option.CLIENT_ID, plan.client_id, NO_HARDWARE),
        (Option.USER_CLASS, plan.user_class, _length(plan.user_class)),
        (Option.VENDOR_IDENTIFYING, plan.vendor_identifying, b""),
    )
    return tuple((code, _value(said, before)) for code, said, before in written if said)


def _value(said: str, before: bytes) -> bytes:
    if said.startswith(RAW):
        return bytes.fromhex(said.removeprefix(RAW))
    return before + said.encode("ascii")


def _length(said: str | None) -> bytes:
    """Return the length octet before an instance of user class data (RFC 3004 §4)."""
    return bytes([len(said)]) if said else b""
