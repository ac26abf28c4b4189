"""What the outside asks of the supervisor: JSON and descriptors in one packet of a socket.

A status pipe travels with an order to build or start; its lines say what came of it.
"""

from __future__ import annotations

import json
import os
import socket
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from agent.practice.beyond import beyond_from
from agent.practice.line import FaultChoice, LineSpec, Severity
from agent.practice.path import path_from
from agent.practice.products import Product

LARGEST = 4_000_000
MOST_DESCRIPTORS = 8


def send_order(
    channel: socket.socket, order: Mapping[str, Any], descriptors: Sequence[int]
) -> None:
    """Send one order with its descriptors."""
    socket.send_fds(channel, [json.dumps(order).encode()], list(descriptors))


def receive_order(channel: socket.socket) -> tuple[dict[str, Any], list[int]] | None:
    """Return the next order and its descriptors, None once the other side has gone."""
    data, descriptors, _, _ = socket.recv_fds(channel, LARGEST, MOST_DESCRIPTORS)
    return (json.loads(data), descriptors) if data else None


def say(status: int, **what: object) -> None:
    """Write one line of status; nobody listening any more is no fault."""
    try:
        os.write(status, json.dumps(what).encode() + b"\n")
    except BrokenPipeError:
        return


def spec_document(spec: LineSpec) -> dict[str, Any]:
    """Return a line's specification as JSON values."""
    return asdict(spec)


def spec_from(document: Mapping[str, Any]) -> LineSpec:
    """Return the specification of a document made by `spec_document`."""
    faults = tuple(
        FaultChoice(name=fault["name"], severity=Severity(fault["severity"]))
        for fault in document["faults"]
    )
    parts = {
        "faults": faults,
        "path": path_from(document["path"]),
        "beyond": beyond_from(document["beyond"]),
        "products": tuple(Product(**product) for product in document["products"]),
    }
    return LineSpec(**{**document, **parts})
