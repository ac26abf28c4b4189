"""Columns are called by what tells the records apart, and never alike."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from records import healthy

from agent.sheet.comparison.labels import column_labels, in_order

BASE = healthy()
# A record states its minutes from UTC; the sheet shows the hour of the place.
MORNING, NOON, NEXT_DAY = "2026-03-02T09:14:07Z", "2026-03-02T11:14:07Z", "2026-03-03T09:14:07Z"


def visits(*places):
    """Records of (spot, plugged into, started)."""
    return [
        replace(
            BASE,
            visit=replace(BASE.visit, spot=spot, plugged_into=plugged),
            started=started,
            utc_offset_min=60,
        )
        for spot, plugged, started in places
    ]


@pytest.mark.parametrize(
    ("places", "named"),
    [
        (
            [("at the modem", "modem", MORNING), ("attic", "router", NOON)],
            ("at the modem", "attic"),
        ),
        (
            [(None, "modem", MORNING), (None, "router", NOON), (None, "mesh", NOON)],
            ("modem", "router", "mesh unit"),
        ),
        ([("hall", "ont", MORNING), ("hall", "ont", NOON)], ("Before", "After")),
        ([(None, "ont", MORNING), (None, "ont", NEXT_DAY)], ("Before", "After")),
        ([("hall", "ont", NOON), ("hall", "ont", MORNING)], ("12:14", "10:14")),
        (
            [(None, "ont", NEXT_DAY), (None, "ont", MORNING)],
            ("March 3, 2026, 10:14", "March 2, 2026, 10:14"),
        ),
        (
            [
                ("hall", "ont", MORNING),
                ("hall", "ont", NOON),
                ("attic", "ont", MORNING),
                ("attic", "ont", NOON),
            ],
            ("hall, before", "hall, after", "attic, before", "attic, after"),
        ),
        (
            [("hall", "ont", MORNING), ("attic", "ont", MORNING), ("hall", "ont", NOON)],
            ("hall, before", "attic", "hall, after"),
        ),
        (
            [("hall", "ont", MORNING), ("hall", "ont", NOON), ("hall", "ont", NEXT_DAY)],
            ("March 2, 2026, 10:14", "March 2, 2026, 12:14", "March 3, 2026, 10:14"),
        ),
        ([("hall", "ont", MORNING)] * 2, ("Record 1", "Record 2")),
        ([("hall", "ont", "once"), ("hall", "ont", "then")], ("Record 1", "Record 2")),
    ],
)
def test_a_column_is_called_by_what_tells_it_apart(places, named):
    assert column_labels(visits(*places)) == named


@pytest.mark.parametrize(
    ("first", "last", "told"),
    [
        (MORNING, NOON, True),
        (NOON, MORNING, False),
        (NOON, NOON, None),
        ("once", NOON, None),
    ],
)
def test_the_order_of_two_visits_is_told_from_their_moments(first, last, told):
    assert in_order(visits((None, "ont", first), (None, "ont", last))) is told


PLACES = st.tuples(
    st.sampled_from([None, "", "hall", "attic", "\u202e\x1b"]),
    st.sampled_from(["ont", "modem", "unknown"]),
    st.sampled_from([MORNING, NOON, NEXT_DAY, "sometime"]),
)


@given(st.lists(PLACES, min_size=2, max_size=4))
@settings(max_examples=200, deadline=None)
def test_no_two_columns_are_called_alike_and_none_is_nameless(places):
    named = column_labels(visits(*places))
    assert len(set(named)) == len(places)
    assert all(named)
