"""Small DHCP, DNS and web servers for computers where no real ones are installed."""

from __future__ import annotations

import socket
import struct
import threading
from collections.abc import Mapping
from contextlib import suppress
from ipaddress import IPv4Address, IPv4Network

from agent.codec import dhcp
from agent.codec.dhcp_options import Option, Options, pack_addresses, pack_seconds
from agent.codec.reader import Reader
from agent.errors import MalformedMessage
from agent.practice.addresses import Addresses, Site

LARGEST = 2048
SO_BINDTODEVICE = 25
FOUND, NO_SUCH_NAME = 0x8580, 0x8583
"""Flags of a final answer, recursion offered: NOERROR and NXDOMAIN (RFC 1035 §4.1.1)."""

TYPE_A = 1
QUESTION_POINTER = 0xC00C
"""The name at offset 12, where every question starts (RFC 1035 §4.1.4)."""

TTL_S = 60


def serve_dhcp(port: str, addresses: Addresses, lease_s: int) -> None:
    """Answer DISCOVER and REQUEST on a port for ever with the network's one address."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as server:
        server.setsockopt(socket.SOL_SOCKET, SO_BINDTODEVICE, port.encode())
        server.setsockopt(socket.SOL_SOCKET, socket.SO_BROADCAST, 1)
        server.bind(("", dhcp.SERVER_PORT))
        while True:
            with suppress(MalformedMessage):
                answer = answer_dhcp(dhcp.decode(server.recv(LARGEST)), addresses, lease_s)
                if answer is not None:
                    server.sendto(dhcp.encode(answer), ("255.255.255.255", dhcp.CLIENT_PORT))


def answer_dhcp(
    asked: dhcp.DhcpMessage, addresses: Addresses, lease_s: int
) -> dhcp.DhcpMessage | None:
    """Return the OFFER or ACK to a client's message, None where it wants neither."""
    answers = {
        dhcp.MessageType.DISCOVER: dhcp.MessageType.OFFER,
        dhcp.MessageType.REQUEST: dhcp.MessageType.ACK,
    }
    kind = answers.get(dhcp.MessageType(asked.message_type)) if asked.message_type else None
    if kind is None:
        return None
    return dhcp.reply(
        asked,
        kind,
        server_id=addresses.router,
        address=addresses.laptop,
        options=_grant(addresses, lease_s),
    )


def _grant(addresses: Addresses, lease_s: int) -> Options:
    t1_s, t2_s = dhcp.default_timers(lease_s) or (lease_s, lease_s)
    return (
        (Option.LEASE_S, pack_seconds(lease_s)),
        (Option.T1_S, pack_seconds(t1_s)),
        (Option.T2_S, pack_seconds(t2_s)),
        (Option.SUBNET_MASK, pack_addresses(str(IPv4Network(addresses.lan).netmask))),
        (Option.ROUTERS, pack_addresses(addresses.router)),
        (Option.DNS, pack_addresses(*addresses.resolvers)),
    )


def serve_names(address: str, port: int, names: Mapping[str, str]) -> None:
    """Answer DNS queries over UDP and TCP for ever from a table of names."""
    threading.Thread(target=_serve_names_tcp, args=(address, port, names), daemon=True).start()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as server:
        server.bind((address, port))
        while True:
            query, client = server.recvfrom(LARGEST)
            with suppress(MalformedMessage):
                server.sendto(answer_name(query, names), client)


def _serve_names_tcp(address: str, port: int, names: Mapping[str, str]) -> None:
    with socket.create_server((address, port)) as server:
        while True:
            stream, _ = server.accept()
            with stream, suppress(OSError, MalformedMessage):
                stream.settimeout(2)
                answer = answer_name(stream.recv(LARGEST)[2:], names)
                stream.sendall(len(answer).to_bytes(2, "big") + answer)


def answer_name(query: bytes, names: Mapping[str, str]) -> bytes:
    """Return the reply to a query of one question (RFC 1035 §4). Raises MalformedMessage."""
    reader = Reader(query, message="DNS query")
    identity = reader.u16()
    reader.bytes(10)
    name = _read_name(reader)
    qtype = reader.u16()
    question = query[12 : 12 + len(_write_name(name)) + 4]
    known = names.get(name.lower())
    answers = b""
    if known and qtype == TYPE_A:
        answers = struct.pack("!HHHIH", QUESTION_POINTER, TYPE_A, 1, TTL_S, 4)
        answers += IPv4Address(known).packed
    flags = FOUND if known else NO_SUCH_NAME
    head = struct.pack("!6H", identity, flags, 1, int(bool(answers)), 0, 0)
    return head + question + answers


def _read_name(reader: Reader) -> str:
    labels = []
    while length := reader.u8():
        labels.append(reader.bytes(length).decode("ascii", "replace"))
    return ".".join(labels)


def _write_name(name: str) -> bytes:
    labels = (label.encode("ascii", "replace") for label in name.split(".") if label)
    return b"".join(bytes([len(label)]) + label for label in labels) + b"\0"


def page(site: Site) -> str:
    """Return the page of a web site, too long for one packet."""
    head = f"<!doctype html><title>{site.name}</title><p>{site.marker}</p>\n"
    return head + f"<p>{'All is quiet in the bay. ' * 120}</p>\n"
