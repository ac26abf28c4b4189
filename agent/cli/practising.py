"""The course of a practice visit on the command line."""

from __future__ import annotations

import os
import subprocess
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from agent.cli import faces
from agent.cli.asked import Asked, rate_bps
from agent.cli.guard import say
from agent.cli.output import reports_folder
from agent.cli.visiting import show, write_pages
from agent.errors import OutputError, printable
from agent.practice.faults import CATALOGUE
from agent.practice.homes import HOMES, PLAIN
from agent.practice.line import FaultChoice, LineSpec
from agent.practice.runner import PracticeVisit, Truth, run_practice
from agent.practice.tiers import line_for
from agent.record.model import PracticeTruth
from agent.record.store import add_practice
from agent.settings.loader import load, pick_tier

if TYPE_CHECKING:
    from agent.settings.model import Tier


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeAsked:
    """The options of the command line, unchecked; rates as typed, `loss` a ratio each way."""

    faults: tuple[str, ...] = ()
    tier: str = "Tern Bay 100/20"
    down: str | None = None
    up: str | None = None
    rtt_ms: float = 10.0
    jitter_ms: float = 0.0
    loss: float = 0.0
    seed: int = 1
    settings: Path | None = None
    plan: str = "standard"
    without: tuple[str, ...] = ()
    handover: str = "dhcp"
    home: str = PLAIN
    purpose: str = "installation"
    probe: bool = False
    out: Path | None = None
    log: Path | None = None
    json: bool = False
    quiet: bool = False


def list_faults() -> None:
    """Print the faults that can be played, where each is and what it does, and the homes."""
    width = max(len(fault.name) for fault in CATALOGUE)
    for fault in CATALOGUE:
        typer.echo(f"{fault.name:<{width}}  {fault.segment:<8}  {fault.sentence}")
    typer.echo()
    for name, home in HOMES.items():
        typer.echo(f"{name:<{width}}  {'home':<8}  {home.sentence}")


def run(asked: PracticeAsked) -> int:
    """Make a practice visit, add the truth to its record, show it; return the exit code."""
    settings = load(asked.settings, os.environ, {}).settings
    tier = pick_tier(settings, asked.tier)
    folder = reports_folder(asked.out)
    _make(folder)
    visit = PracticeVisit(
        settings=settings,
        reports=folder,
        tier=tier.name,
        access=tier.access.value,
        arguments=_arguments(asked),
        output=subprocess.DEVNULL,
        probes=asked.probe,
    )
    done = run_practice(line_of(asked, tier), visit, keep=_keep, note=say)
    for path in done.records:
        stored = faces.read(path)
        write_pages(stored, path.parent)
        show(stored, path, Asked(json=asked.json, quiet=asked.quiet))
    return done.exit_code


def line_of(asked: PracticeAsked, tier: Tier) -> LineSpec:
    """Return the practice line of what was asked. Raises UsageError."""
    line = line_for(
        tier,
        down_bps=rate_bps(asked.down, "--down") if asked.down else None,
        up_bps=rate_bps(asked.up, "--up") if asked.up else None,
        rtt_ms=asked.rtt_ms,
        jitter_ms=asked.jitter_ms,
        loss=asked.loss,
        seed=asked.seed,
    )
    faults = tuple(FaultChoice.parse(text) for text in asked.faults)
    return replace(line, faults=faults, handover=asked.handover, home=asked.home)


def _arguments(asked: PracticeAsked) -> tuple[str, ...]:
    arguments = ["--json", f"--plan={asked.plan}", f"--purpose={asked.purpose}"]
    arguments += [f"--without={kind}" for kind in asked.without]
    if asked.log is not None:
        arguments.append(f"--log={asked.log.resolve()}")
    if asked.quiet:
        arguments.append("--quiet")
    return tuple(arguments)


def _keep(path: Path, truth: Truth) -> None:
    add_practice(
        path,
        PracticeTruth(fault=truth.fault, severity=truth.severity, truth=dict(truth.values)),
    )


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(path=folder, problem=printable(error.strerror)) from error
