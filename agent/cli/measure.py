"""`doorstep measure KIND`: one measurement alone."""

from typing import Annotated

import typer

from agent.cli.guard import guarded
from agent.cli.options import (
    ConsentFlag,
    Family,
    FamilyName,
    Handover,
    HandoverName,
    Interface,
    Json,
    KindName,
    LogFile,
    MaxData,
    NoProbe,
    PlanName,
    ServerUrl,
    SettingsPath,
    TierName,
)


@guarded
def measure(
    kind: Annotated[KindName, typer.Argument(help="What to measure.")],
    settings: SettingsPath = None,
    server: ServerUrl = None,
    tier: TierName = None,
    plan: PlanName = "standard",
    interface: Interface = None,
    family: Family = FamilyName.BOTH,
    max_data: MaxData = None,
    consent: ConsentFlag = False,
    no_probe: NoProbe = False,
    handover: Handover = HandoverName.DHCP,
    log: LogFile = None,
    json: Json = False,
    self_check: Annotated[
        bool,
        typer.Option(
            "--self-check",
            help="With throughput, on your own bench: keep what this laptop carried.",
            show_default=False,
        ),
    ] = False,
) -> None:
    """Make one measurement and print it; nothing is judged or stored.

    With --self-check against a server on the bench, what this laptop and its adapter carried is
    kept with its date; later records carry it, and no line is held to more than that.

    Exit codes: 0 measured, 4 not measured, 2 wrong usage or settings, 1 unexpected.

    Example: doorstep measure delay --server http://test.ternbay.example:8642
    """
    from agent.cli import measuring
    from agent.cli.asked import Asked

    asked = Asked(
        only=kind.value,
        settings=settings,
        server=server,
        tier=tier,
        plan=plan,
        interface=interface,
        family=family.value,
        max_data=max_data,
        consent=consent,
        no_probe=no_probe,
        handover=handover.value,
        log=log,
        json=json,
        self_check=self_check,
    )
    raise typer.Exit(measuring.run(asked))
