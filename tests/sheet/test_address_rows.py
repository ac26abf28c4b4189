"""The page's block of addresses: the port, the address held, and what it says of IPv6."""

from dataclasses import replace

import pytest
from measured_samples import complete
from records import healthy

from agent.measurements import FamilyLook
from agent.record import (
    FamilyState,
    FamilyStatistics,
    Kind,
    LeaseStatistics,
    LinkStatistics,
    Role,
)
from agent.sheet.address_rows import address_block


def rows(**found):
    look = FamilyLook(held=(4,), routed=(4,), request_bytes=0)
    measured = complete(Kind.HTTP, Role.OUTSIDE, look, FamilyStatistics(**found))
    record = healthy()
    block = address_block(replace(record, measured=(*record.measured, measured)))
    return {pair.label: pair.value for pair in block.pairs}


@pytest.mark.parametrize(
    ("found", "said"),
    [
        ({"state": FamilyState.PRESENT}, "works"),
        ({"state": FamilyState.ABSENT}, "not given"),
        ({"state": FamilyState.BROKEN}, "given, does not work"),
        (
            {"state": FamilyState.PRESENT, "translation_prefix": "64:ff9b::/96"},
            "works, IPv4 by translation",
        ),
        # A prefix alone makes nothing work.
        (
            {"state": FamilyState.BROKEN, "translation_prefix": "64:ff9b::/96"},
            "given, does not work",
        ),
    ],
)
def test_the_state_of_ipv6_is_one_row(found, said):
    assert rows(**found)["IPv6"] == said


def test_what_was_not_tried_is_not_said():
    assert "IPv6" not in rows(state=FamilyState.UNTRIED)
    assert "IPv6" not in {pair.label for pair in address_block(healthy()).pairs}


def with_lease(**changes):
    return with_statistics(LeaseStatistics, changes)


def with_statistics(kind, changes):
    record = healthy()
    measured = tuple(
        replace(one, statistics=replace(one.statistics, **changes))
        if isinstance(one.statistics, kind)
        else one
        for one in record.measured
    )
    return {p.label: p.value for p in address_block(replace(record, measured=measured)).pairs}


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({}, "192.0.2.44/24, by DHCP"),
        ({"state": "preferred"}, "192.0.2.44/24, by DHCP"),
        ({"state": "expired", "expired_s": 60.0}, "192.0.2.44/24, by DHCP, lease over"),
        ({"state": "duplicate"}, "192.0.2.44/24, by DHCP, in use by another device"),
        ({"origin": "static", "state": "deprecated"}, "192.0.2.44/24, static, deprecated"),
    ],
)
def test_the_state_of_the_address_stands_behind_it(changes, said):
    assert said in with_lease(**changes).values()


def test_renewal_times_that_nobody_stated_are_told_apart():
    assert "60 min, renewal after 30 min" in with_lease().values()
    assert "60 min, renewal after 30 min by default" in with_lease(timers_assumed=True).values()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"parent": "eth0", "parent_kind": "pppoe"}, "eth0 over eth0: "),
        ({"parent": "eth0", "vlan_id": 7}, "eth0 over eth0, tag 7: "),
        ({}, "eth0: "),
    ],
)
def test_a_port_on_a_port_names_the_one_beneath(changes, said):
    found = with_statistics(LinkStatistics, changes)
    assert any(value.startswith(said) for value in found.values())


def test_who_answered_a_pppoe_handover_is_counted():
    assert with_lease(concentrators=2, first_concentrator_ms=4.0)["PPPoE heard"].startswith("2, 4")
    assert with_lease(concentrators=0)["PPPoE heard"] == "0"
    assert "PPPoE heard" not in with_lease()
