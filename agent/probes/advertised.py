"""Routers and DHCPv6 servers beside the lease: asked where the right is there, else why not."""

from __future__ import annotations

from dataclasses import dataclass, replace

from agent.errors import CannotMeasure
from agent.measurements import AdvertisedProbe, AdvertisedView, LeaseFacts, LinkFacts
from agent.ports.frames import FramePort, Solicit
from agent.settings.model import LeasePlan

DIALLED = "pppoe-handover"


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What came of asking: the probe, or the code why there is none."""

    probe: AdvertisedProbe | None = None
    reason: str | None = None


def hear_routers(
    frames: FramePort | None,
    unwilling: str | None,
    plan: LeasePlan,
    link: LinkFacts,
    *,
    dialled: bool,
) -> Heard:
    """Return what routers and servers say; without the helper nobody is asked.

    Not even the question for resolvers alone can be sent then: a client's port is 546 (RFC 8415
    §7.2), which a plain user may not bind. On a PPPoE handover nobody answers before the session.
    """
    if frames is None or dialled:
        return Heard(reason=DIALLED if unwilling is None else unwilling)
    asked = Solicit(
        interface=link.interface,
        hardware_address=link.hardware_address or "",
        listen_s=plan.listen_s,
    )
    try:
        return Heard(probe=frames.routers(asked))
    except CannotMeasure as error:
        return Heard(reason=str(error.fields.get("code", error.code)))


def with_routers(
    entries: tuple[LeaseFacts, ...], heard: Heard, view: AdvertisedView | None
) -> tuple[LeaseFacts, ...]:
    """Return the leases with what was heard and taken, in the first of IPv6, else in the first.

    An address that a router had the laptop make carries the portal's API that routers name.
    """
    place = next((at for at, one in enumerate(entries) if one.family == 6), 0)
    held = entries[place]
    found = replace(
        held, advertised=heard.probe, advertised_reason=heard.reason, advertised_view=view
    )
    if held.family == 6 and held.captive_api is None:
        found = replace(found, captive_api=_portal(heard.probe))
    return (*entries[:place], found, *entries[place + 1 :])


def _portal(probe: AdvertisedProbe | None) -> str | None:
    routers = probe.routers if probe is not None else ()
    return next((one.captive_api for one in routers if one.captive_api is not None), None)
