"""What the page says of an earlier visit."""

from dataclasses import replace

import pytest
from records import below, extreme, healthy

from agent.record.seal import redact, seal, verify
from agent.record.since import since
from agent.sheet.since import since_listing
from agent.sheet.view import build_sheet

BEFORE, AFTER = below(), healthy()


def told(before, after):
    return since_listing(replace(after, since=since(before, after)))


def test_without_an_earlier_visit_nothing_is_said():
    assert since_listing(AFTER) is None
    titles = [one.title for one in build_sheet(seal(AFTER)).listings]
    assert not any(title.startswith("Since") for title in titles)


def test_a_figure_that_lies_apart_is_named_with_both_values():
    found = told(BEFORE, AFTER)
    line = next(item for item in found.items if item.startswith("Download differs"))
    assert line.endswith("now, beyond both intervals.")
    assert " then, " in line
    assert found.title in {f"Since the visit of {w}" for w in (build_sheet(seal(BEFORE)).dated,)}


def test_nothing_apart_is_said_too():
    (line,) = told(AFTER, AFTER).items
    assert line.startswith("None of ")


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({"spot": "attic"}, "Spot then"),
        ({"plugged_into": "mesh"}, "Plugged into then"),
    ],
)
def test_another_spot_is_said_before_any_figure(change, expected):
    moved = replace(AFTER, visit=replace(AFTER.visit, **change))
    assert told(AFTER, moved).items[0].startswith(expected)


def test_another_tier_is_said():
    other = replace(AFTER, tier=replace(AFTER.tier, name="Tern Bay 250/50", down_bps=250_000_000))
    assert "Tern Bay 250/50" in told(AFTER, other).items[0]
    assert told(AFTER, replace(AFTER, tier=None)).items[0].startswith("Sold then")


def test_the_comment_is_sealed_read_back_and_kept_when_redacted():
    record = replace(AFTER, since=since(BEFORE, AFTER))
    stored = seal(record)
    assert verify(stored.document).whole
    assert redact(stored).record.since == record.since
    assert build_sheet(stored).listings[-1].title.startswith("Since the visit of")


def test_the_comment_decides_nothing():
    record = replace(AFTER, since=since(BEFORE, AFTER))
    assert record.assessment == AFTER.assessment
    assert build_sheet(seal(record)).headline == build_sheet(seal(AFTER)).headline


def test_hostile_text_stays_bounded_and_harmless():
    odd = extreme("\x1b[31m<b>" + "W" * 400)
    found = told(odd, AFTER)
    assert all(len(item) < 400 and "\x1b" not in item for item in found.items)
