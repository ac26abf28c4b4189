"""What the user asked of a visit or a measurement, as plain values."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from agent.errors import UsageError
from agent.units import GIGA, KILO, MEGA

_SIZE = re.compile(r"(\d+(?:\.\d+)?)\s*([kKMG]?)B?")
_FACTORS = {"": 1, "k": KILO, "K": KILO, "M": MEGA, "G": GIGA}


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The options of the command line, unchecked; one field per option."""

    settings: Path | None = None
    server: str | None = None
    tier: str | None = None
    plan: str = "standard"
    without: tuple[str, ...] = ()
    only: str | None = None
    interface: str | None = None
    family: str = "both"
    max_data: str | None = None
    consent: bool = False
    no_probe: bool = False
    out: Path | None = None
    log: Path | None = None
    json: bool = False
    quiet: bool = False
    work_order: str | None = None
    technician: str | None = None
    company: str | None = None
    premises: str | None = None
    spot: str | None = None
    plugged_into: str = "unknown"
    access: str | None = None
    handover: str = "dhcp"
    nothing_else_on: bool | None = None
    purpose: str = "installation"
    previous: Path | None = None
    readings: tuple[str, ...] = ()
    self_check: bool = False


def size_bytes(text: str, option: str) -> int:
    """Return bytes for a decimal size such as 200M or 1.5G. Raises UsageError."""
    match = _SIZE.fullmatch(text.strip())
    if match is None:
        raise UsageError(
            problem=f"{option} cannot be {text!r}.",
            remedy="Give bytes as a number with k, M or G, such as 200M.",
        )
    return int(float(match[1]) * _FACTORS[match[2]])


def rate_bps(text: str, option: str) -> int:
    """Return bit/s for a decimal rate such as 50M or 2.5G. Raises UsageError."""
    match = _SIZE.fullmatch(text.strip())
    if match is None:
        raise UsageError(
            problem=f"{option} cannot be {text!r}.",
            remedy="Give bit/s as a number with k, M or G, such as 50M.",
        )
    return int(float(match[1]) * _FACTORS[match[2]])
