"""A server before the real resolver that answers late, or fails, for names to look up."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from agent.practice.simple import LARGEST

PATIENCE_S = 5.0
FAILURE = bytes.fromhex("8182")
"""Flags of an answer with recursion offered and RCODE 2, server failure (RFC 1035 §4.1.1)."""

Sender = tuple[Any, ...]
Forward = Callable[[bytes, tuple[str, int]], bytes]

ONE_QUESTION = bytes.fromhex("0001000000000000")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """What is done to every query: held for `delay_s`, and with `fails` never answered well."""

    delay_s: float = 0.0
    fails: bool = False


def serve_bent(addresses: Sequence[str], port: int, behind: tuple[str, int], bend: Bend) -> None:
    """Answer over UDP and TCP for ever with what the resolver `behind` answers, bent."""
    serving = [(serve, address) for address in addresses for serve in (_serve_udp, _serve_tcp)]
    threads = [
        threading.Thread(target=serve, args=(address, port, behind, bend))
        for serve, address in serving
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def failure(query: bytes) -> bytes:
    """Return the answer of a resolver that cannot look the question up."""
    return query[:2] + FAILURE + ONE_QUESTION + _question(query)


def _question(query: bytes) -> bytes:
    """Return the one question of a query, the name without pointers (RFC 1035 §4.1.2)."""
    at = 12
    while at < len(query) and query[at]:
        at += 1 + query[at]
    return query[12 : at + 5]


def _serve_udp(address: str, port: int, behind: tuple[str, int], bend: Bend) -> None:
    with socket.socket(_family(address), socket.SOCK_DGRAM) as server:
        server.bind((address, port))
        while True:
            query, client = server.recvfrom(LARGEST)

            def answer(query: bytes = query, client: Sender = client) -> None:
                with suppress(OSError):
                    server.sendto(_bent(query, behind, bend, _over_udp), client)

            threading.Thread(target=answer, daemon=True).start()


def _serve_tcp(address: str, port: int, behind: tuple[str, int], bend: Bend) -> None:
    with socket.create_server((address, port), family=_family(address)) as server:
        while True:
            stream, _ = server.accept()
            threading.Thread(target=_converse, args=(stream, behind, bend), daemon=True).start()


def _converse(stream: socket.socket, behind: tuple[str, int], bend: Bend) -> None:
    with stream, suppress(OSError):
        stream.settimeout(PATIENCE_S)
        query = stream.recv(LARGEST)[2:]
        answer = _bent(query, behind, bend, _over_tcp)
        stream.sendall(len(answer).to_bytes(2, "big") + answer)


def _bent(query: bytes, behind: tuple[str, int], bend: Bend, forward: Forward) -> bytes:
    time.sleep(bend.delay_s)
    return failure(query) if bend.fails else forward(query, behind)


def _over_udp(query: bytes, behind: tuple[str, int]) -> bytes:
    with socket.socket(_family(behind[0]), socket.SOCK_DGRAM) as asking:
        asking.settimeout(PATIENCE_S)
        asking.sendto(query, behind)
        return asking.recv(LARGEST)


def _over_tcp(query: bytes, behind: tuple[str, int]) -> bytes:
    with (
        socket.create_connection(behind, timeout=PATIENCE_S) as asking,
        asking.makefile("rb") as told,
    ):
        asking.sendall(len(query).to_bytes(2, "big") + query)
        return told.read(int.from_bytes(told.read(2), "big"))


def _family(address: str) -> socket.AddressFamily:
    return socket.AF_INET6 if ":" in address else socket.AF_INET
