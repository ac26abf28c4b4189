"""From the kernel's entries to link facts: medium, parent, and the port that really counts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from agent.codec.rtnetlink import LinkEntry
from agent.engines.linux_sysfs import Device
from agent.measurements import LinkFacts, Medium, Wireless

ETHERNET = 1
HARDWARE = {
    512: Medium.PPP,
    772: Medium.LOOPBACK,
    519: Medium.MOBILE,
    768: Medium.TUNNEL,
    769: Medium.TUNNEL,
    776: Medium.TUNNEL,
    778: Medium.TUNNEL,
    823: Medium.TUNNEL,
}
"""ARPHRD numbers of linux/if_arp.h: PPP, loopback, raw IP modem, and four IP tunnels, GRE6."""

TUNNELS = {"tun", "wireguard", "vti", "vti6", "xfrm", "gretap", "ip6gretap", "vxlan", "geneve"}
TUNNELS |= {"ovpn", "amneziawg", "l2tpeth"}
TAGGED = {"vlan", "macvlan", "ipvlan"}
JOINED = {"bridge", "bond", "team"}
PHONES = {"ipheth", "rndis_host", "qmi_wwan", "cdc_mbim"}
"""Drivers of phones and mobile modems that show up as a wired port (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Means:
    """Where the facts beyond netlink come from: device by entry, speed by name, PPPoE ports."""

    device: Callable[[LinkEntry], Device | None]
    speed: Callable[[str], tuple[int | None, str | None]]
    pppoe: tuple[str, ...] = ()


def describe(entry: LinkEntry, entries: tuple[LinkEntry, ...], means: Means) -> LinkFacts:
    """Return the facts of one interface; a tagged, joined or PPP one takes its port's facts."""
    own = _own(entry, means)
    parent = _parent(entry, entries, means)
    if parent is None:
        return own
    port = describe(parent, _without(entry, entries), means)
    return replace(
        own,
        medium=own.medium if own.medium is not Medium.WIRED else port.medium,
        speed_bps=port.speed_bps,
        duplex=port.duplex,
        receive_errors=port.receive_errors,
        transmit_errors=port.transmit_errors,
        carrier_changes=port.carrier_changes,
        bus_bps=port.bus_bps,
        wireless=port.wireless,
        virtual=port.virtual,
        parent=parent.name,
        parent_kind="pppoe" if own.medium is Medium.PPP else entry.kind,
        vlan_id=own.vlan_id or port.vlan_id,
    )


def _without(entry: LinkEntry, entries: tuple[LinkEntry, ...]) -> tuple[LinkEntry, ...]:
    return tuple(other for other in entries if other.index != entry.index)


def _own(entry: LinkEntry, means: Means) -> LinkFacts:
    device = means.device(entry)
    medium = medium_of(entry, device)
    speed_bps, duplex = means.speed(entry.name) if medium is Medium.WIRED else (None, None)
    return LinkFacts(
        interface=entry.name,
        up=entry.running and entry.carrier is not False,
        medium=medium,
        hardware_address=entry.address.hex(":") if len(entry.address) == 6 else None,
        speed_bps=speed_bps,
        duplex=duplex,
        mtu_bytes=entry.mtu_bytes,
        receive_errors=entry.receive_errors,
        transmit_errors=entry.transmit_errors,
        carrier_changes=entry.carrier_changes,
        vlan_id=entry.vlan_id,
        bus_bps=device.bus_bps if device else None,
        wireless=Wireless() if medium is Medium.WIRELESS else None,
        virtual=not device.physical if device else entry.kind is not None,
    )


def medium_of(entry: LinkEntry, device: Device | None) -> Medium:
    """Return what carries the frames, from hardware type, driver kind and device."""
    device = device or Device()
    if entry.kind in TUNNELS:
        return Medium.TUNNEL
    if device.radio or device.role == "wlan":
        return Medium.WIRELESS
    if device.role == "wwan" or device.driver in PHONES:
        return Medium.MOBILE
    if entry.hardware_type == ETHERNET:
        return Medium.WIRED
    return HARDWARE.get(entry.hardware_type, Medium.UNKNOWN)


def _parent(entry: LinkEntry, entries: tuple[LinkEntry, ...], means: Means) -> LinkEntry | None:
    others = _without(entry, entries)
    if entry.kind in TAGGED:
        return next((o for o in others if o.index == entry.parent_index), None)
    if entry.kind in JOINED:
        members = [o for o in others if o.master_index == entry.index]
        return min(members, key=lambda o: (not o.running, o.kind is not None), default=None)
    if entry.hardware_type == 512 and len(means.pppoe) == 1:
        return next((o for o in others if o.name == means.pppoe[0]), None)
    return None
