"""`doorstep visit`: the main job."""

import typer

from agent.cli.guard import guarded
from agent.cli.options import (
    AccessOption,
    Company,
    ConsentFlag,
    Family,
    FamilyName,
    Handover,
    HandoverName,
    Interface,
    Json,
    LogFile,
    MaxData,
    NoProbe,
    NothingElseOn,
    OutFolder,
    PlanName,
    PluggedInto,
    PluggedName,
    Premises,
    Previous,
    Purpose,
    PurposeName,
    Quiet,
    ReadingTexts,
    ServerUrl,
    SettingsPath,
    Spot,
    Technician,
    TierName,
    Without,
    WorkOrder,
)


@guarded
def visit(
    settings: SettingsPath = None,
    server: ServerUrl = None,
    tier: TierName = None,
    plan: PlanName = "standard",
    without: Without = None,
    interface: Interface = None,
    family: Family = FamilyName.BOTH,
    max_data: MaxData = None,
    consent: ConsentFlag = False,
    no_probe: NoProbe = False,
    out: OutFolder = None,
    log: LogFile = None,
    json: Json = False,
    quiet: Quiet = False,
    work_order: WorkOrder = None,
    technician: Technician = None,
    company: Company = None,
    premises: Premises = None,
    spot: Spot = None,
    plugged_into: PluggedInto = PluggedName.UNKNOWN,
    access: AccessOption = None,
    handover: Handover = HandoverName.DHCP,
    nothing_else_on: NothingElseOn = None,
    purpose: Purpose = PurposeName.INSTALLATION,
    previous: Previous = None,
    reading: ReadingTexts = None,
) -> None:
    """Measure everything, judge it against the tier, write the record and its page.

    Exit codes: 0 meets, 3 below, 4 not proven, 2 wrong usage or settings, 1 unexpected.

    Example: doorstep visit --server https://test.ternbay.example --tier "Tern Bay 100/20"
    --plugged-into modem --nothing-else-on --work-order 4711
    """
    from agent.cli import visiting
    from agent.cli.asked import Asked

    asked = Asked(
        settings=settings,
        server=server,
        tier=tier,
        plan=plan,
        without=tuple(kind.value for kind in without or ()),
        interface=interface,
        family=family.value,
        max_data=max_data,
        consent=consent,
        no_probe=no_probe,
        out=out,
        log=log,
        json=json,
        quiet=quiet,
        work_order=work_order,
        technician=technician,
        company=company,
        premises=premises,
        spot=spot,
        plugged_into=plugged_into.value,
        access=access.value if access else None,
        handover=handover.value,
        nothing_else_on=nothing_else_on,
        purpose=purpose.value,
        previous=previous,
        readings=tuple(reading or ()),
    )
    raise typer.Exit(visiting.run(asked))
