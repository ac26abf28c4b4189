"""The course of a practice visit on the command line."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from agent.cli import faces
from agent.cli.asked import Asked, rate_bps
from agent.cli.dressing import look_of
from agent.cli.guard import say
from agent.cli.output import reports_folder
from agent.cli.visiting import show, write_pages
from agent.errors import OutputError, printable
from agent.practice.faults import CATALOGUE
from agent.practice.homes import HOMES, PLAIN
from agent.practice.line import FaultChoice, LineSpec, Severity
from agent.practice.quiz import chosen
from agent.practice.runner import PracticeVisit, Truth, run_practice
from agent.practice.tiers import line_for
from agent.record.model import PracticeTruth
from agent.record.store import add_practice
from agent.settings.loader import load, pick_tier

if TYPE_CHECKING:
    from agent.settings.model import Settings

USUAL_SEED = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeAsked:
    """The options of the command line, unchecked; rates as typed, `loss` a ratio each way.

    `seed` and `home` None are the usual ones; a visit with `guess` draws them. `stated` is what a
    technician says of the visit, by the names of the visit's own options.
    """

    faults: tuple[str, ...] = ()
    guess: bool = False
    severity: str | None = None
    tier: str = "Tern Bay 100/20"
    down: str | None = None
    up: str | None = None
    rtt_ms: float = 10.0
    jitter_ms: float = 0.0
    loss: float = 0.0
    seed: int | None = None
    settings: Path | None = None
    plan: str = "standard"
    without: tuple[str, ...] = ()
    handover: str = "dhcp"
    home: str | None = None
    purpose: str = "installation"
    stated: Mapping[str, str] = field(default_factory=dict)
    readings: tuple[str, ...] = ()
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
    if asked.guess:
        from agent.cli import guessing

        return guessing.run(asked)
    settings = load(asked.settings, os.environ, {}).settings
    look = look_of(settings.identity)
    folder = reports_folder(asked.out)
    make_folder(folder)
    line = line_of(asked, settings, choices_of(asked))
    done = run_practice(line, visit_of(asked, settings, folder), keep=_keep, note=say)
    for path in done.records:
        stored = faces.read(path)
        write_pages(stored, path.parent, look)
        show(stored, path, Asked(json=asked.json, quiet=asked.quiet), look)
    return done.exit_code


def visit_of(asked: PracticeAsked, settings: Settings, folder: Path) -> PracticeVisit:
    """Return what the visit is told, its records to go below `folder`. Raises UsageError."""
    tier = pick_tier(settings, asked.tier)
    return PracticeVisit(
        settings=settings,
        reports=folder,
        tier=tier.name,
        access=tier.access.value,
        arguments=_arguments(asked),
        output=subprocess.DEVNULL,
        probes=asked.probe,
    )


def choices_of(asked: PracticeAsked) -> tuple[FaultChoice, ...]:
    """Return the faults named, as hard as each or all are to strike. Raises UsageError."""
    severity = Severity(asked.severity) if asked.severity else Severity.MEDIUM
    return tuple(chosen(text, severity) for text in asked.faults)


def line_of(asked: PracticeAsked, settings: Settings, faults: tuple[FaultChoice, ...]) -> LineSpec:
    """Return the practice line of what was asked, with these faults. Raises UsageError."""
    line = line_for(
        pick_tier(settings, asked.tier),
        down_bps=rate_bps(asked.down, "--down") if asked.down else None,
        up_bps=rate_bps(asked.up, "--up") if asked.up else None,
        rtt_ms=asked.rtt_ms,
        jitter_ms=asked.jitter_ms,
        loss=asked.loss,
        seed=USUAL_SEED if asked.seed is None else asked.seed,
        catalogue=settings.tiers,
    )
    return replace(line, faults=faults, handover=asked.handover, home=asked.home or PLAIN)


def _arguments(asked: PracticeAsked) -> tuple[str, ...]:
    arguments = ["--json", f"--plan={asked.plan}", f"--purpose={asked.purpose}"]
    arguments += [f"--without={kind}" for kind in asked.without]
    arguments += [f"--reading={reading}" for reading in asked.readings]
    arguments += [f"--{name}={said}" for name, said in asked.stated.items()]
    if asked.log is not None:
        arguments.append(f"--log={asked.log.resolve()}")
    if asked.quiet:
        arguments.append("--quiet")
    return tuple(arguments)


def truth_of(truth: Truth) -> PracticeTruth:
    """Return what was played as the record keeps it."""
    return PracticeTruth(fault=truth.fault, severity=truth.severity, truth=dict(truth.values))


def _keep(path: Path, truth: Truth) -> None:
    add_practice(path, truth_of(truth))


def make_folder(folder: Path) -> None:
    """Make the folder that the visits are kept in. Raises OutputError."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(path=folder, problem=printable(error.strerror)) from error
