"""The options that several commands share, each declared once."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer


class KindName(StrEnum):
    """The measurements by the names a user types."""

    LINK = "link"
    LEASE = "lease"
    DNS = "dns"
    DELAY = "delay"
    PATH = "path"
    HTTP = "http"
    REACH = "reach"
    THROUGHPUT = "throughput"


class FamilyName(StrEnum):
    """The address families a visit may be held to."""

    FOUR = "4"
    SIX = "6"
    BOTH = "both"


class PluggedName(StrEnum):
    """What the laptop's cable ends in."""

    ONT = "ont"
    MODEM = "modem"
    ROUTER = "router"
    MESH = "mesh"
    UNKNOWN = "unknown"


class AccessName(StrEnum):
    """The technology of the access line."""

    FIBRE = "fibre"
    CABLE = "cable"
    DSL = "dsl"
    WIRELESS = "wireless"
    UNKNOWN = "unknown"


class HandoverName(StrEnum):
    """How the line gives an address."""

    DHCP = "dhcp"
    PPPOE = "pppoe"
    STATIC = "static"


class PurposeName(StrEnum):
    """Why the visit is made."""

    INSTALLATION = "installation"
    HELP_DESK = "help-desk"
    COMPLAINT = "complaint"


SettingsPath = Annotated[
    Path | None,
    typer.Option("--settings", help="A settings file or a folder of them.", show_default=False),
]
ServerUrl = Annotated[
    str | None,
    typer.Option(
        "--server", help="The operator's server: the URL of its card.", show_default=False
    ),
]
TierName = Annotated[
    str | None,
    typer.Option(
        "--tier", help="The product sold, by its name in the settings.", show_default=False
    ),
]
PlanName = Annotated[str, typer.Option("--plan", help="What to measure and how long.")]
Without = Annotated[
    list[KindName] | None,
    typer.Option("--without", help="Leave a measurement out; may be repeated.", show_default=False),
]
Interface = Annotated[
    str | None,
    typer.Option(
        "--interface",
        help="The port under test; the system's way out when not given.",
        show_default=False,
    ),
]
Family = Annotated[FamilyName, typer.Option("--family", help="Internet protocol version.")]
MaxData = Annotated[
    str | None,
    typer.Option(
        "--max-data",
        help="The most data to move, in bytes, such as 200M or 1G.",
        show_default=False,
    ),
]
ConsentFlag = Annotated[
    bool,
    typer.Option(
        "--consent",
        help="The customer agreed to the line being filled for some seconds.",
        show_default=False,
    ),
]
NoProbe = Annotated[
    bool, typer.Option("--no-probe", help="Do not ask for lease offers.", show_default=False)
]
OutFolder = Annotated[
    Path | None, typer.Option("--out", help="Folder for records and pages.", show_default=False)
]
LogFile = Annotated[
    Path | None,
    typer.Option(
        "--log", help="Write what happened, step by step, to this file.", show_default=False
    ),
]
Json = Annotated[
    bool,
    typer.Option("--json", help="Print the record itself and nothing else.", show_default=False),
]
Quiet = Annotated[
    bool, typer.Option("--quiet", help="Print one line: the verdict.", show_default=False)
]
Language = Annotated[
    str | None,
    typer.Option(
        "--language",
        help="Language of the page: en or de, if need be with a region such as de-AT; that of the "
        "settings if not given.",
        show_default=False,
    ),
]
WorkOrder = Annotated[
    str | None, typer.Option("--work-order", help="Work order number.", show_default=False)
]
Technician = Annotated[
    str | None, typer.Option("--technician", help="Who measures.", show_default=False)
]
Company = Annotated[str | None, typer.Option("--company", help="For whom.", show_default=False)]
Premises = Annotated[
    str | None, typer.Option("--premises", help="Address of the home.", show_default=False)
]
Spot = Annotated[
    str | None,
    typer.Option("--spot", help="Where in the home, such as 'at the modem'.", show_default=False),
]
PluggedInto = Annotated[
    PluggedName, typer.Option("--plugged-into", help="What the laptop's cable ends in.")
]
AccessOption = Annotated[
    AccessName | None,
    typer.Option(
        "--access",
        help="Technology of the line; the tier's own when not given.",
        show_default=False,
    ),
]
Handover = Annotated[
    HandoverName, typer.Option("--handover", help="How the line gives an address.")
]
NothingElseOn = Annotated[
    bool | None,
    typer.Option(
        "--nothing-else-on/--others-on",
        help="Whether other devices use the line now.",
        show_default=False,
    ),
]
Purpose = Annotated[PurposeName, typer.Option("--purpose", help="Why the visit is made.")]
Previous = Annotated[
    Path | None,
    typer.Option(
        "--previous",
        help="The record of an earlier visit that this one follows.",
        show_default=False,
    ),
]
ReadingTexts = Annotated[
    list[str] | None,
    typer.Option(
        "--reading",
        metavar='"WHERE WHAT VALUE UNIT"',
        help="What was read by meter or from the equipment's own page, such as "
        '"modem downstream-level 3.1 dBmV"; may be repeated. WHERE: tap, entry (ground block or '
        "NID), outlet (wall plate), modem, ont. WHAT: downstream-level, upstream-level (dBmV or "
        "dBuV), downstream-snr (MER, dB), uncorrectable-ratio and timeouts (T3/T4; both since this "
        "visit began, no unit), optical-receive (dBm), dsl-margin-down, dsl-margin-up (dB), "
        "dsl-sync-down, dsl-sync-up (Mbit/s), radio-rsrp (dBm), radio-sinr (dB). Judges nothing. "
        "Only where you are trained and allowed to: open no tap and no powered plant for it, and "
        "never look into a fibre.",
        show_default=False,
    ),
]
