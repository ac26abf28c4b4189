"""The parts that rules run over, and what a rule finds."""

from __future__ import annotations

from dataclasses import dataclass

from pydantic import Field

from agent.settings.frozen import Frozen
from agent.settings.keys import Path
from agent.settings.model import (
    Accept,
    Access,
    FitnessRule,
    LimitSet,
    Line,
    Plan,
    Server,
    Targets,
    Tier,
)
from agent.settings.usual import UsualSet


class Parts(Frozen):
    """The settings that are sound by themselves; what is missing here is not checked."""

    plans: tuple[Plan, ...] = ()
    tiers: tuple[Tier, ...] = ()
    limits: dict[Access, LimitSet] = Field(default_factory=dict)
    accept: dict[Access, Accept] = Field(default_factory=dict)
    usual: dict[Access, UsualSet] = Field(default_factory=dict)
    targets: Targets | None = None
    server: Server = Server()
    line: Line = Line()
    fitness: dict[str, FitnessRule] = Field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Where a contradiction stands, what was found and what is allowed.

    `other` tells the same from its other side; whichever side was set last is at fault.
    """

    path: Path
    found: str
    allowed: str
    other: Problem | None = None
