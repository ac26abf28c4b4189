"""Servers of addresses and sessions that are set up wrong, or should not be there at all."""

from __future__ import annotations

import secrets
import socket
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass

from agent.codec import dhcp, pppoe
from agent.codec.dhcp import MessageType
from agent.codec.dhcp_options import Option, Options, pack_addresses, pack_seconds
from agent.errors import MalformedMessage
from agent.practice.oslease import take_lease
from agent.practice.simple import LARGEST, SO_BINDTODEVICE

COOKIE_BYTES = 16
HEADER = 14
LEASE_S = 3600


Answer = Callable[[dhcp.DhcpMessage], dhcp.DhcpMessage | None]


def serve_answers(port: str, answer: Answer) -> None:
    """Send on a port for ever what a function answers to each client's message."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as server:
        server.setsockopt(socket.SOL_SOCKET, SO_BINDTODEVICE, port.encode())
        server.setsockopt(socket.SOL_SOCKET, socket.SO_BROADCAST, 1)
        server.bind(("", dhcp.SERVER_PORT))
        while True:
            with suppress(MalformedMessage):
                answered = answer(dhcp.decode(server.recv(LARGEST)))
                if answered is not None:
                    server.sendto(dhcp.encode(answered), ("255.255.255.255", dhcp.CLIENT_PORT))


@dataclass(frozen=True, slots=True, kw_only=True)
class Giver:
    """A server of one address with its options as they are; `refuses` whoever asks for it."""

    server_id: str
    address: str
    options: Options
    refuses: bool = False

    def answer(self, asked: dhcp.DhcpMessage) -> dhcp.DhcpMessage | None:
        """Return the OFFER, and ACK or NAK (RFC 2131 §4.3.1, §4.3.2), None for anything else."""
        if asked.message_type == MessageType.DISCOVER:
            return self._given(asked, MessageType.OFFER)
        if asked.message_type != MessageType.REQUEST:
            return None
        if self.refuses:
            said = ((Option.MESSAGE_TEXT, b"address not available"),)
            return dhcp.reply(asked, MessageType.NAK, server_id=self.server_id, options=said)
        return self._given(asked, MessageType.ACK)

    def _given(self, asked: dhcp.DhcpMessage, kind: MessageType) -> dhcp.DhcpMessage:
        return dhcp.reply(
            asked, kind, server_id=self.server_id, address=self.address, options=self.options
        )


def usual_options(
    router: str, resolver: str, *, t1_s: int = LEASE_S // 2, t2_s: int = LEASE_S * 7 // 8
) -> Options:
    """Return what a home router gives; its times by RFC 2131 §4.4.5 unless told otherwise."""
    return (
        (Option.LEASE_S, pack_seconds(LEASE_S)),
        (Option.T1_S, pack_seconds(t1_s)),
        (Option.T2_S, pack_seconds(t2_s)),
        (Option.SUBNET_MASK, pack_addresses("255.255.255.0")),
        (Option.ROUTERS, pack_addresses(router)),
        (Option.DNS, pack_addresses(resolver)),
    )


def ask_for_ever(port: str, hardware_address: bytes) -> Callable[[], None]:
    """Return what a system without a lease does: ask again and again (RFC 2131 §3.1)."""

    def ask() -> None:
        while take_lease(port, hardware_address) is None:
            continue

    return ask


def serve_concentrator(port: str, hardware_address: bytes, name: str) -> None:
    """Answer every PADI on a port with a PADO for ever, and nothing else (RFC 2516 §5.2)."""
    with socket.socket(socket.AF_PACKET, socket.SOCK_RAW, socket.htons(pppoe.ETHERTYPE)) as heard:
        heard.bind((port, pppoe.ETHERTYPE))
        while True:
            frame = heard.recv(LARGEST)
            with suppress(MalformedMessage):
                asked = pppoe.decode(frame[HEADER:])
                if asked.code == pppoe.Code.PADI:
                    heard.send(pado(frame[6:12], hardware_address, asked, name))


def pado(client: bytes, hardware_address: bytes, asked: pppoe.Discovery, name: str) -> bytes:
    """Return the frame of the answer to a PADI; its cookie is new each time."""
    offer = pppoe.offer(
        asked, name=name, services=("", "internet"), cookie=secrets.token_bytes(COOKIE_BYTES)
    )
    return client + hardware_address + pppoe.ETHERTYPE.to_bytes(2) + pppoe.encode(offer)
