"""The time server beyond the operator: it answers with this computer's clock, or one apart."""

from __future__ import annotations

import socket
from datetime import timedelta
from functools import partial

from agent.clock import unix_ns
from agent.codec import ntp
from agent.errors import MalformedMessage
from agent.practice.services import Service
from agent.units import NS_PER_S

LARGEST = 512
SECOND_STRATUM = 2


def time_service(address: str, apart: timedelta = timedelta()) -> Service:
    """Return the time server at an address; its clock is ahead by `apart`."""
    return Service(name="time", host="outside", run=partial(serve_time, address, apart))


def serve_time(address: str, apart: timedelta) -> None:
    """Answer every request for the time (RFC 5905 §7.3, mode 4) until the process ends."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.bind((address, ntp.PORT))
        while True:
            request, client = sock.recvfrom(LARGEST)
            came = _now(apart)
            try:
                origin = ntp.decode_transmit(request)
            except MalformedMessage:
                continue
            sock.sendto(ntp.encode_reply(_reply(origin, came, _now(apart))), client)


def _now(apart: timedelta) -> int:
    return ntp.from_unix_ns(unix_ns() + round(apart.total_seconds() * NS_PER_S))


def _reply(origin: int, came: int, leaves: int) -> ntp.TimeReply:
    return ntp.TimeReply(
        leap=0,
        version=ntp.VERSION,
        mode=ntp.SERVER,
        stratum=SECOND_STRATUM,
        poll=0,
        precision=-20,
        root_delay_s=0.0,
        root_dispersion_s=0.0,
        reference_id=socket.inet_aton("192.0.2.1"),
        reference=came,
        origin=origin,
        receive=came,
        transmit=leaves,
    )
