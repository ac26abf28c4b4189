"""From what was asked and the settings in force to a visit's request."""

from __future__ import annotations

import os
import sys

import typer

from agent.cli.asked import Asked, size_bytes
from agent.cli.laptop_file import laptop_file, read_laptop
from agent.clock import SystemClock
from agent.errors import UsageError
from agent.measurements import Kind, Reason
from agent.record.model import Consent, Private
from agent.session.hand_readings import readings_of
from agent.session.request import VisitRequest
from agent.session.targets import card_url
from agent.settings.loader import Loaded, load, pick_plan, pick_tier
from agent.settings.model import Access, Handover, Plan, PluggedInto, Purpose, Settings, Tier
from agent.units import MEGA

CAUTION = (
    "Filling the line takes about {seconds:.0f} s and moves up to {megabytes:.0f} MB. It can "
    "disturb calls (perhaps this very call), alarms and medical devices on the line."
)
QUESTION = "Does the customer agree?"


def settings_for(asked: Asked) -> Loaded:
    """Return the settings in force for what was asked."""
    return load(asked.settings, os.environ, {})


def request_for(asked: Asked, loaded: Loaded, previous_id: str | None) -> VisitRequest:
    """Return the request of a visit; asks for consent on a terminal. Raises UsageError."""
    settings = loaded.settings
    plan = pick_plan(settings, asked.plan)
    tier = pick_tier(settings, asked.tier) if asked.tier else None
    access = _access(asked, tier)
    readings = readings_of(asked.readings, settings, access)
    skips = _skips(asked, plan)
    url = asked.server or settings.server.card
    fills = Kind.THROUGHPUT in plan.steps and Kind.THROUGHPUT not in skips
    max_bytes = size_bytes(asked.max_data, "--max-data") if asked.max_data else None
    consent = _consent(asked, plan, tier, max_bytes) if fills else None
    if fills and (consent is None or not consent.given):
        skips[Kind.THROUGHPUT] = Reason(code="no-consent")
    laptop = read_laptop(laptop_file())
    return VisitRequest(
        settings=settings,
        settings_sha256=loaded.sha256,
        plan=plan,
        tier=tier,
        access=access,
        private=_private(asked, settings),
        purpose=Purpose(asked.purpose),
        plugged_into=PluggedInto(asked.plugged_into),
        handover=Handover(asked.handover),
        spot=asked.spot,
        nothing_else_on=asked.nothing_else_on,
        previous=previous_id,
        interface=asked.interface,
        family=asked.family,
        server_url=card_url(_checked_url(url)) if url else None,
        token=settings.server.token,
        max_bytes=max_bytes,
        consent=consent,
        device_id=laptop.device_id,
        laptop_checks=laptop.checks_at(SystemClock().wall()),
        readings=readings,
        probe_offers=not asked.no_probe,
        skips=skips,
    )


def _skips(asked: Asked, plan: Plan) -> dict[Kind, Reason]:
    skips = {Kind(name): Reason(code="not-asked") for name in asked.without}
    if asked.only is not None:
        wanted = Kind(asked.only)
        skips |= {kind: Reason(code="not-asked") for kind in plan.steps if kind is not wanted}
    return skips


def _access(asked: Asked, tier: Tier | None) -> Access:
    if asked.access is not None:
        return Access(asked.access)
    return tier.access if tier is not None else Access.UNKNOWN


def _private(asked: Asked, settings: Settings) -> Private:
    identity = settings.identity
    return Private(
        work_order=asked.work_order,
        technician=asked.technician or identity.technician,
        company=asked.company or identity.company,
        premises=asked.premises,
        contact=identity.contact,
    )


def _checked_url(url: str) -> str:
    if not url.startswith(("http://", "https://")):
        raise UsageError(
            problem=f"--server {url!r} is no URL of a server.",
            remedy="Give it as http://HOST:PORT or https://HOST.",
        )
    return url


def _consent(asked: Asked, plan: Plan, tier: Tier | None, max_bytes: int | None) -> Consent | None:
    if asked.consent:
        return Consent(given=True, how="option", at_s=0.0)
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        return None
    typer.echo(_caution(plan, tier, max_bytes), err=True)
    return Consent(given=typer.confirm(QUESTION, err=True), how="asked", at_s=0.0)


def _caution(plan: Plan, tier: Tier | None, max_bytes: int | None) -> str:
    seconds = plan.throughput.seconds
    expected = 2.0 * plan.throughput.max_bytes
    if tier is not None:
        expected = min(expected, (tier.down_bps + tier.up_bps) / 8 * seconds * 1.25)
    if max_bytes is not None:
        expected = min(expected, float(max_bytes))
    return CAUTION.format(seconds=2 * seconds, megabytes=expected / MEGA)
