"""An old record judged by new settings: the same observations, the chain run again."""

from __future__ import annotations

from dataclasses import replace

from agent.assessment.circumstances import Circumstances
from agent.chain import conclude
from agent.errors import UsageError
from agent.record.model import Measured, Reading, Record, TierFacts
from agent.session.circumstances import cards_of
from agent.session.hand_readings import with_usual
from agent.session.tier import tier_facts
from agent.settings.choose import pick_plan
from agent.settings.loaded import Loaded
from agent.settings.model import (
    Access,
    Handover,
    Layer,
    Plan,
    PluggedInto,
    Purpose,
    Rates,
    Settings,
    Tier,
)


def judged_anew(record: Record, loaded: Loaded) -> Record:
    """Return the record with statistics, assessment and diagnosis under other settings.

    The tier is the one of the same name in the new settings, else the one that was judged, with
    the accepted shares of the new settings.
    """
    settings = loaded.settings
    tier = _tier(settings, record)
    conclusion = conclude(
        tuple(one.measurement for one in record.measured),
        record.conditions,
        settings,
        _plan(settings, record.visit.plan),
        tier,
        _circumstances(record),
    )
    return replace(
        record,
        tier=tier_facts(settings, tier) if tier else None,
        settings_sha256=loaded.sha256,
        visit=replace(record.visit, readings=_readings(settings, record)),
        measured=tuple(
            Measured(
                measurement=one.measurement,
                statistics=conclusion.statistics.get(one.measurement.id),
            )
            for one in record.measured
        ),
        assessment=conclusion.assessment,
        diagnosis=conclusion.diagnosis,
    )


def _readings(settings: Settings, record: Record) -> tuple[Reading, ...]:
    return with_usual(record.visit.readings, settings, Access(record.visit.access))


def _tier(settings: Settings, record: Record) -> Tier | None:
    sold = record.tier
    if sold is None:
        return None
    named = [tier for tier in settings.tiers if tier.name == sold.name]
    if named:
        return named[0]
    return Tier(
        name=sold.name,
        down_bps=sold.down_bps,
        up_bps=sold.up_bps,
        layer=Layer(sold.layer),
        access=Access(record.visit.access),
        provisioned=sold.provisioned,
        minimum=_rates(sold.minimum_down_bps, sold.minimum_up_bps),
        normal=_rates(sold.normal_down_bps, sold.normal_up_bps),
        maximum=_rates(sold.maximum_down_bps, sold.maximum_up_bps),
        advertised=_rates(sold.advertised_down_bps, sold.advertised_up_bps),
    )


def _rates(down_bps: int | None, up_bps: int | None) -> Rates | None:
    if down_bps is None or up_bps is None:
        return None
    return Rates(down_bps=down_bps, up_bps=up_bps)


def same_tier(one: TierFacts | None, other: TierFacts | None) -> bool:
    """Tell whether two visits are held to the same rates: sold, layer and accepted shares."""
    return _held_to(one) == _held_to(other)


def _held_to(tier: TierFacts | None) -> tuple[object, ...] | None:
    if tier is None:
        return None
    return (tier.down_bps, tier.up_bps, tier.layer, tier.accept_down, tier.accept_up)


def _plan(settings: Settings, name: str) -> Plan:
    try:
        return pick_plan(settings, name)
    except UsageError:
        return settings.plans[0]


def _circumstances(record: Record) -> Circumstances:
    visit = record.visit
    return Circumstances(
        purpose=Purpose(visit.purpose),
        plugged_into=PluggedInto(visit.plugged_into),
        access=Access(visit.access),
        handover=Handover(visit.handover),
        nothing_else_on=visit.nothing_else_on,
        interface=visit.interface,
        seen_address=record.server.seen_address if record.server else None,
        server_cards=cards_of(record.server),
        card_fault=record.server.card_fault if record.server else None,
        laptop_check=record.agent.laptop_check,
    )
