"""The page's block of addresses: what it says of IPv6."""

from dataclasses import replace

import pytest
from measured_samples import complete
from records import healthy

from agent.measurements import FamilyLook
from agent.record import FamilyState, FamilyStatistics, Kind, Role
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
