"""PPPoE discovery: a PADI, and every PADO heard; no session is asked for or ended."""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field
from typing import Any

from agent.clock import Clock
from agent.codec import pppoe
from agent.codec.pppoe import Tag
from agent.errors import MalformedMessage
from agent.helper.port import RawPort, refuse_other
from agent.helper.request import ConcentratorsWanted

AGAIN_AFTER_S = 1.0
"""When the PADI is sent once more; later ones wait twice as long each (RFC 2516 §8)."""

MOST_CONCENTRATORS = 16
MOST_SERVICES = 8
LONGEST_NAME = 64
HOST_UNIQ_BYTES = 8


@dataclass(kw_only=True)
class PadoHearing:
    """Collects the PADOs that repeat our Host-Uniq, one per concentrator, bounded in count."""

    host_uniq: bytes
    concentrators: list[dict[str, Any]] = field(default_factory=list)
    malformed: int = 0

    def hear(self, body: bytes, sender: bytes, after_ms: float) -> None:
        """Take the body of one frame of the discovery type."""
        try:
            packet = pppoe.decode(body)
        except MalformedMessage:
            self.malformed += 1
            return
        if self._ours(packet) and self._new(sender):
            self.concentrators.append(concentrator_form(packet, sender, after_ms))

    def _ours(self, packet: pppoe.Discovery) -> bool:
        answers = packet.code == pppoe.Code.PADO
        return answers and packet.tag(Tag.HOST_UNIQ) == self.host_uniq

    def _new(self, sender: bytes) -> bool:
        known = {found["hardware_address"] for found in self.concentrators}
        return sender.hex(":") not in known and len(known) < MOST_CONCENTRATORS


def concentrator_form(packet: pppoe.Discovery, sender: bytes, after_ms: float) -> dict[str, Any]:
    """Return a PADO as the fields of `measurements.Concentrator`."""
    cookie = packet.tag(Tag.AC_COOKIE)
    errors = [_text(value) for kind in pppoe.ERRORS for value in packet.all(kind)]
    return {
        "after_ms": after_ms,
        "hardware_address": sender.hex(":"),
        "name": _text(packet.tag(Tag.AC_NAME) or b""),
        "services": [_text(name) for name in packet.all(Tag.SERVICE_NAME)[:MOST_SERVICES]],
        "cookie_bytes": None if cookie is None else len(cookie),
        "error": errors[0] if errors else None,
    }


def _text(value: bytes) -> str:
    """Return UTF-8 text (RFC 2516 Appendix A) without what could act on a terminal."""
    text = value.decode("utf-8", "replace")[:LONGEST_NAME]
    return "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text)


def find_concentrators(wanted: ConcentratorsWanted, clock: Clock) -> dict[str, Any]:
    """Send PADI, nothing else, and return every PADO heard in `listen_s`.

    Raises Refusal where the hardware address is not the port's own, OSError for the port.
    """
    refuse_other(wanted.interface, wanted.hardware_address)
    hearing = PadoHearing(host_uniq=secrets.token_bytes(HOST_UNIQ_BYTES))
    body = pppoe.encode(pppoe.initiation(hearing.host_uniq))
    with RawPort(wanted.interface, pppoe.ETHERTYPE) as port:
        begun_s, sent, again_s = clock.monotonic_s(), 0, 0.0
        while (now_s := clock.monotonic_s() - begun_s) < wanted.listen_s:
            if not hearing.concentrators and now_s >= again_s:
                port.send(wanted.hardware_address, body)
                again_s += AGAIN_AFTER_S * 2**sent
                sent += 1
            wake_s = wanted.listen_s if hearing.concentrators else min(again_s, wanted.listen_s)
            heard = port.receive(wake_s - now_s)
            if heard is not None:
                hearing.hear(heard[1], heard[0], (clock.monotonic_s() - begun_s) * 1000)
    return {
        "sent": sent,
        "listened_s": clock.monotonic_s() - begun_s,
        "malformed": hearing.malformed,
        "concentrators": hearing.concentrators,
    }
