"""Ports of the practice network that a product promises to pass, and who listens on them."""

from __future__ import annotations

import socket
from contextlib import suppress

from agent.practice.addresses import Addresses
from agent.practice.services import Service

ANSWER_PORT = 8650
"""Where the operator's server says how it sees who asks, over TCP and UDP."""

MAIL_PORT = 587
"""Mail submission (RFC 6409 §3.1): a port of the far end that some networks filter."""

BACKLOG = 64


def mail_service(addresses: Addresses) -> Service:
    """Return a listener on the outside host's mail port; it takes connections and ends them."""
    listens = (addresses.sites[0].address, MAIL_PORT)
    return Service(name="mail", host="outside", run=serve_mail, listens=listens)


def serve_mail() -> None:
    """Accept on every address of both families for ever."""
    with _listener() as server:
        while True:
            with suppress(OSError):
                server.accept()[0].close()


def _listener() -> socket.socket:
    try:
        return socket.create_server(
            ("::", MAIL_PORT), family=socket.AF_INET6, backlog=BACKLOG, dualstack_ipv6=True
        )
    except OSError:
        return socket.create_server(("", MAIL_PORT), backlog=BACKLOG)
