"""Lists of domain names without compression, as DHCPv6 and router advertisements carry them."""

from __future__ import annotations

from collections.abc import Iterable

from agent.codec.reader import Reader
from agent.errors import MalformedMessage

LONGEST_LABEL = 63
LONGEST_NAME = 253
_NAME_SIGNS = frozenset(b"abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_")


def decode_domains(data: bytes) -> tuple[str, ...]:
    """Return the names of a list (RFC 1035 §3.1, RFC 8415 §10, RFC 8106 §5.2); padding is left.

    Names hold letters, digits, "-" and "_" only. Raises MalformedMessage for anything else.
    """
    reader = Reader(data, message="domain list")
    names = []
    while reader.remaining:
        name = _name(reader)
        if name:
            names.append(name)
    return tuple(names)


def encode_domains(names: Iterable[str]) -> bytes:
    """Return the list of names, each ended by an empty label."""
    return b"".join(
        b"".join(bytes((len(label),)) + label.encode("ascii") for label in name.split(".")) + b"\0"
        for name in names
    )


def _name(reader: Reader) -> str:
    labels: list[str] = []
    while length := reader.u8():
        label = reader.bytes(length) if length <= LONGEST_LABEL else b""
        if not label or any(sign not in _NAME_SIGNS for sign in label):
            raise MalformedMessage(
                message=reader.message, offset=reader.offset, problem="no label of a host"
            )
        labels.append(label.decode("ascii"))
    name = ".".join(labels)
    if len(name) > LONGEST_NAME:
        raise MalformedMessage(message=reader.message, offset=reader.offset, problem="a long name")
    return name
