"""What stands around a probe's payload on each kind of socket."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from agent.codec.icmp import (
    ECHO_REPLY,
    ECHO_REQUEST,
    Echo,
    decode_echo,
    encode_echo,
    without_ip_header,
)
from agent.errors import MalformedMessage

_ECHO_HEADER = 8


@dataclass(frozen=True, slots=True)
class Unwrapped:
    """The payload of an answer, and the sequence number of an echo reply."""

    payload: bytes
    sequence: int | None = None


class Framing(Protocol):
    """Puts a payload into what the socket sends and takes it out of what it hands over."""

    def wrap(self, index: int, payload: bytes) -> bytes:
        """Return what to send for the payload of the datagram with this index."""
        ...

    def unwrap(self, data: bytes) -> Unwrapped | None:
        """Return what an answer holds; None where the datagram is no answer to this socket."""
        ...

    def quoted(self, data: bytes) -> bytes:
        """Return the payload part of what the error queue hands back."""
        ...


class PlainFraming:
    """UDP: the socket sends and receives payloads."""

    def wrap(self, index: int, payload: bytes) -> bytes:  # noqa: ARG002 - UDP has no numbers
        """Return the payload."""
        return payload

    def unwrap(self, data: bytes) -> Unwrapped | None:
        """Return the payload."""
        return Unwrapped(data)

    def quoted(self, data: bytes) -> bytes:
        """Return the payload; the kernel took the UDP header off."""
        return data


@dataclass(frozen=True, slots=True, kw_only=True)
class EchoFraming:
    """ICMP echo: `identifier` None where the kernel chooses it and sorts out the replies.

    `ip_header` says that the socket hands over whole IPv4 packets.
    """

    family: int
    identifier: int | None = None
    ip_header: bool = False

    def wrap(self, index: int, payload: bytes) -> bytes:
        """Return an echo request whose sequence number is the index modulo 65536."""
        return encode_echo(
            Echo(
                icmp_type=ECHO_REQUEST[self.family],
                identifier=self.identifier or 0,
                sequence=index & 0xFFFF,
                data=payload,
            )
        )

    def unwrap(self, data: bytes) -> Unwrapped | None:
        """Return what an echo reply to this socket holds, None for any other ICMP message."""
        try:
            echo = decode_echo(without_ip_header(data) if self.ip_header else data)
        except MalformedMessage:
            return None
        own = self.identifier is None or echo.identifier == self.identifier
        if not own or echo.icmp_type != ECHO_REPLY[self.family]:
            return None
        return Unwrapped(echo.data, echo.sequence)

    def quoted(self, data: bytes) -> bytes:
        """Return what follows the echo header, empty where the quote ends with it."""
        return data[_ECHO_HEADER:]
