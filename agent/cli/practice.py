"""`doorstep practice`: a visit behind a practice modem, with a fault of one's choice."""

from enum import StrEnum
from typing import Annotated

import typer

from agent.cli.guard import guarded
from agent.cli.options import (
    Handover,
    HandoverName,
    Json,
    KindName,
    LogFile,
    OutFolder,
    PlanName,
    Premises,
    Purpose,
    PurposeName,
    Quiet,
    ReadingTexts,
    SettingsPath,
    Spot,
    Technician,
    Without,
    WorkOrder,
)


class SeverityName(StrEnum):
    """How hard a fault strikes, by the names a user types."""

    LIGHT = "light"
    MEDIUM = "medium"
    SEVERE = "severe"


@guarded
def practice(
    faults: Annotated[
        list[str] | None,
        typer.Argument(
            help="Faults to play, each FAULT or FAULT:SEVERITY (light, medium, severe).",
            metavar="[FAULT[:SEVERITY]]...",
            show_default=False,
        ),
    ] = None,
    list_: Annotated[bool, typer.Option("--list", help="Name the faults and end.")] = False,
    guess: Annotated[
        bool,
        typer.Option(
            "--guess",
            help="Train: hide which fault is played, one of those named, or any or none, and ask.",
        ),
    ] = False,
    severity: Annotated[
        SeverityName | None,
        typer.Option(help="How hard a fault strikes that does not say so.", show_default=False),
    ] = None,
    tier: Annotated[str, typer.Option(help="The tier that the line carries.")] = "Tern Bay 100/20",
    down: Annotated[
        str | None,
        typer.Option(
            help="The line's true rate towards the home, such as 50M bit/s.", show_default=False
        ),
    ] = None,
    up: Annotated[
        str | None,
        typer.Option(help="The line's true rate from the home.", show_default=False),
    ] = None,
    rtt: Annotated[
        float, typer.Option(min=0, max=2000, help="Round trip of the line, in ms.")
    ] = 10.0,
    jitter: Annotated[float, typer.Option(min=0, max=1000, help="Mean extra delay, in ms.")] = 0.0,
    loss: Annotated[float, typer.Option(min=0, max=0.9, help="Loss each way, as a ratio.")] = 0.0,
    seed: Annotated[
        int | None,
        typer.Option(
            min=0,
            help="Varies addresses, chance and what --guess draws; 1, by chance with --guess.",
            show_default=False,
        ),
    ] = None,
    settings: SettingsPath = None,
    plan: PlanName = "standard",
    without: Without = None,
    handover: Handover = HandoverName.DHCP,
    home: Annotated[
        str | None,
        typer.Option(
            help="The kind of home; --list names them. ipv4-only where no fault needs another.",
            show_default=False,
        ),
    ] = None,
    purpose: Purpose = PurposeName.INSTALLATION,
    work_order: WorkOrder = None,
    technician: Technician = None,
    premises: Premises = None,
    spot: Spot = None,
    reading: ReadingTexts = None,
    probe: Annotated[
        bool,
        typer.Option(
            "--probe", help="Give the visit the right to probe for addresses, as sudo does."
        ),
    ] = False,
    out: OutFolder = None,
    log: LogFile = None,
    json: Json = False,
    quiet: Quiet = False,
) -> None:
    """Build a virtual home network and run a visit behind its modem.

    Nothing leaves this computer. The practice network consents to being filled; the truth is
    added to the record once the visit has ended. Exit codes are those of the visit; with --guess
    0 wherever it ran. It shows the page without its diagnosis, asks for the part of the way and
    the fault (from standard input), then explains. Faults that only a visit with --probe can tell
    are drawn with --probe, or when named.

    Example: doorstep practice lossy-line:severe --rtt 20
    """
    from agent.cli import practising

    if list_:
        practising.list_faults()
        return
    stated = {
        "work-order": work_order,
        "technician": technician,
        "premises": premises,
        "spot": spot,
    }
    asked = practising.PracticeAsked(
        faults=tuple(faults or ()),
        guess=guess,
        severity=severity.value if severity else None,
        tier=tier,
        down=down,
        up=up,
        rtt_ms=rtt,
        jitter_ms=jitter,
        loss=loss,
        seed=seed,
        settings=settings,
        plan=plan,
        without=tuple(KindName(kind).value for kind in without or ()),
        handover=handover.value,
        home=home,
        purpose=purpose.value,
        stated={name: said for name, said in stated.items() if said is not None},
        readings=tuple(reading or ()),
        probe=probe,
        out=out,
        log=log,
        json=json,
        quiet=quiet,
    )
    raise typer.Exit(practising.run(asked))
