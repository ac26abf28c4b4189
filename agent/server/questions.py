"""What the server asks its reflector's process, and what it hears."""

from __future__ import annotations

from dataclasses import dataclass

from agent.codec.card import ReflectorGrant
from agent.server.sessions import Tally


@dataclass(frozen=True, slots=True, kw_only=True)
class Open:
    """Asks for a session for a client's address; answered with a grant, None where refused.

    `authenticated` asks for a key (RFC 8762 §4.2.2).
    """

    address: str
    client: str
    authenticated: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """Asks what a session saw; answered with a tally, None where the name is not known."""

    name: str
    close: bool = False


Question = Open | Look
Answer = ReflectorGrant | Tally | None
