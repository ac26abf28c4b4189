"""Whether another station uses an address: ARP probes, and who says that it has it (RFC 5227)."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from agent.codec import arp
from agent.errors import MalformedMessage

PROBES = 3
EVERY_S = 1.0
"""PROBE_NUM and PROBE_MIN (RFC 5227 §1.1). The random wait before the first probe is for many
stations that start at once, and is left out: one laptop asks here."""

ANSWERED_WITHIN_S = 1.0
MOST_ADDRESSES = 8


@dataclass(kw_only=True)
class UseProbing:
    """When to ask for which address, and what was answered; times are seconds of one clock.

    `own` are the hardware addresses of this computer's ports: what its own system says of an
    address of its own is no other station's use.
    """

    own: frozenset[bytes]
    sent: dict[str, int] = field(default_factory=dict)
    in_use: list[dict[str, Any]] = field(default_factory=list)
    malformed: int = 0
    _held: set[str] = field(default_factory=set)
    _due_s: dict[str, float] = field(default_factory=dict)

    def ask(self, address: str, now_s: float, *, held: bool = False) -> None:
        """Take an address to ask for, once; held ones are the laptop's own."""
        if address == arp.NO_ADDRESS or address in self.sent or len(self.sent) >= MOST_ADDRESSES:
            return
        self.sent[address], self._due_s[address] = 0, now_s
        if held:
            self._held.add(address)

    def due(self, now_s: float) -> list[str]:
        """Return the addresses to probe now, and count them as probed."""
        due = [one for one, at_s in self._due_s.items() if at_s <= now_s and self._open(one)]
        for address in due:
            self.sent[address] += 1
            self._due_s[address] = now_s + EVERY_S
        return due

    def ends_s(self) -> float:
        """Return when the last answer may come; before any probe the beginning of time."""
        return max(
            (
                at_s + (PROBES - self.sent[one] - 1) * EVERY_S + ANSWERED_WITHIN_S
                for one, at_s in self._due_s.items()
            ),
            default=0.0,
        )

    def hear(self, body: bytes, after_ms: float) -> None:
        """Take the body of one ARP frame.

        Another station's probe is no use yet: it asks as this one does, and either may be told.
        """
        try:
            packet = arp.decode(body)
        except MalformedMessage:
            self.malformed += 1
            return
        if packet.sender in self.sent and packet.sender_hardware not in self.own:
            self._note(packet, after_ms)

    def _note(self, packet: arp.ArpPacket, after_ms: float) -> None:
        hardware_address = packet.sender_hardware.hex(":")
        known = {(use["address"], use["hardware_address"]) for use in self.in_use}
        if (packet.sender, hardware_address) not in known and len(known) < MOST_ADDRESSES:
            self.in_use.append(
                {
                    "address": packet.sender,
                    "hardware_address": hardware_address,
                    "after_ms": after_ms,
                    "held": packet.sender in self._held,
                }
            )

    def _open(self, address: str) -> bool:
        return self.sent[address] < PROBES
