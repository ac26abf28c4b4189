"""Faults of the address that the laptop holds, as its system would have brought them about."""

from __future__ import annotations

import random
from datetime import UTC, timedelta
from ipaddress import IPv4Network

from agent.clock import SystemClock
from agent.practice.addresses import LAN_BITS
from agent.practice.oslease import Lease, lease_file, resolver_file
from agent.practice.services import LEASE_S
from agent.practice.stage import Stage
from agent.practice.strikes_offers import second_dhcp_speaks
from agent.practice.topology import LAPTOP_PORT

SELF_ASSIGNED_BITS = 16
OVER_SINCE_S = 2 * LEASE_S


def self_assigned(stage: Stage) -> None:
    """Let the laptop make its address up, outside of the parts set aside (RFC 3927 §2.1)."""
    draw = random.Random(f"self-assigned {stage.spec.seed}")
    address = f"169.254.{draw.randrange(1, 255)}.{draw.randrange(256)}"
    stage.bench.address("laptop", LAPTOP_PORT, address, SELF_ASSIGNED_BITS)


def lease_expired(stage: Stage) -> None:
    """Let nobody renew the lease, and a client that ended hold on to what it set without end."""
    address = _held(stage)
    stage.stop("dhcp")
    stage.bench.forget_addresses("laptop", LAPTOP_PORT)
    stage.bench.address("laptop", LAPTOP_PORT, address, LAN_BITS)
    stage.bench.route("laptop", "default", stage.addresses.router)
    _write(stage, address, stage.addresses.router, since_s=LEASE_S + OVER_SINCE_S)


def two_leases(stage: Stage) -> None:
    """Let a second router give addresses too, and a second client of the laptop take one."""
    second_dhcp_speaks(stage)
    home = IPv4Network(stage.addresses.lan)
    octets = home.network_address.packed
    beside = IPv4Network((bytes((*octets[:2], octets[2] ^ 1, 0)), LAN_BITS))
    router, address = str(beside[1]), str(beside[20])
    stage.bench.lease("laptop", LAPTOP_PORT, address, LAN_BITS, LEASE_S)
    _write(stage, address, router, name="second")


def no_default_way(stage: Stage) -> None:
    """Let the laptop hold its address and forget the way on."""
    address = _held(stage)
    stage.bench.forget_addresses("laptop", LAPTOP_PORT)
    stage.bench.lease("laptop", LAPTOP_PORT, address, LAN_BITS, LEASE_S)


def no_resolver_set(stage: Stage) -> None:
    """Let the laptop know no resolver."""
    (stage.scratch / "resolv.conf").write_text(resolver_file(()))


def _held(stage: Stage) -> str:
    return stage.bench.addresses_4("laptop", LAPTOP_PORT)[0]


def _write(
    stage: Stage, address: str, router: str, *, since_s: int = 0, name: str = LAPTOP_PORT
) -> None:
    """Write a lease down as the laptop's client would have."""
    lease = Lease(
        address=address,
        prefix=LAN_BITS,
        gateway=router,
        dns=(stage.addresses.resolver,),
        server_id=router,
        lease_s=LEASE_S,
        t1_s=LEASE_S // 2,
        t2_s=LEASE_S * 7 // 8,
        obtained=SystemClock().wall().astimezone(UTC) - timedelta(seconds=since_s),
    )
    place = stage.scratch / "leases" / f"dhclient.{name}.leases"
    place.write_text(lease_file(lease, LAPTOP_PORT))


STRIKES = (self_assigned, lease_expired, two_leases, no_default_way, no_resolver_set)
