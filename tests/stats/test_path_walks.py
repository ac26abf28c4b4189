"""What a walk over two flows says: links, parallel ways, limited answers, change."""

import itertools
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.measurements import HopExtensions, HopInterface, HopLabel, HopWalk, PathChange
from agent.stats.fisher import chance_of_more
from agent.stats.path import path_statistics
from agent.stats.path_answering import Tally, answering
from agent.stats.path_change import compare_paths

TARGET = "203.0.113.9"


def router(distance, way=0):
    return f"198.51.100.{distance + 100 * way}"


def walk(*attempts, target=TARGET, **columns):
    """Attempts as (distance, flow, address or None); the target answers 3/3 (RFC 792)."""
    sources = [a for _, _, a in attempts]
    return HopWalk(
        target=target,
        protocol="udp",
        waiting_s=1.0,
        distance=tuple(d for d, _, _ in attempts),
        attempt=tuple(range(len(attempts))),
        flow=tuple(f for _, f, _ in attempts),
        sent_s=(0.0,) * len(attempts),
        rtt_ms=tuple(None if a is None else 5.0 for a in sources),
        answered_by=tuple(sources),
        icmp_type=tuple(None if a is None else 3 if a == target else 11 for a in sources),
        icmp_code=tuple(None if a is None else 3 if a == target else 0 for a in sources),
        **columns,
    )


def ways(*flows, attempts=2):
    """A walk in which each flow met a row of addresses."""
    return walk(
        *(
            (distance, flow, address)
            for flow, row in enumerate(flows)
            for distance, address in enumerate(row, start=1)
            for _ in range(attempts)
        )
    )


# Two ways between distances 1 and 4.
UPPER = (router(1), router(2), router(3), router(4), TARGET)
LOWER = (router(1), router(2, 1), router(3, 1), router(4), TARGET)


def links(found):
    return {(link.flow, link.distance, link.near, link.far) for link in found.links}


def test_links_are_drawn_within_one_flow_only():
    found = path_statistics(ways(UPPER, LOWER))
    true = {
        (flow, distance, near, far)
        for flow, row in enumerate((UPPER, LOWER))
        for distance, (near, far) in enumerate(itertools.pairwise(row), start=1)
    }
    assert links(found) == true
    assert (found.flows, found.parallel_at) == (2, (2, 3))
    assert found.hops[1].by_flow == ((router(2),), (router(2, 1),))
    assert found.hops[1].addresses == (router(2), router(2, 1))


def test_no_link_crosses_a_silent_distance():
    row = (router(1), None, router(3), TARGET)
    assert links(path_statistics(ways(row))) == {(0, 3, router(3), TARGET)}


def test_routers_that_spread_packets_get_no_links():
    # Per packet, not per flow: which answers belong to one way cannot be told.
    rows = [
        (1, 0, router(1)), (1, 0, router(1)), (2, 0, router(2)), (2, 0, router(2, 1)),
        (3, 0, router(3)), (3, 0, router(3)), (4, 0, TARGET), (4, 0, TARGET),
    ]  # fmt: skip
    found = path_statistics(walk(*rows))
    assert found.links == ()
    assert found.parallel_at == (2,)


def test_a_later_answer_to_an_attempt_counts_as_an_answerer():
    found = path_statistics(walk((1, 0, router(1)), (2, 0, TARGET), further=((0, router(1, 1)),)))
    assert found.hops[0].addresses == (router(1), router(1, 1))
    assert found.links == ()


def test_hops_up_to_where_the_first_flow_arrives():
    found = path_statistics(ways((router(1), router(2), TARGET), (*UPPER[:4], TARGET)))
    assert found.reached
    assert [hop.distance for hop in found.hops] == [1, 2, 3]
    only_second = path_statistics(ways((router(1), router(2), None, None), (router(1), TARGET)))
    assert (only_second.reached, len(only_second.hops)) == (True, 2)


def test_labels_interfaces_and_unplaced_answers():
    label = HopLabel(label=100048, traffic_class=0, bottom=True, ttl=1)
    interface = HopInterface(role="incoming", index=5)
    seen = HopExtensions(labels=(label,), interfaces=(interface,))
    found = path_statistics(
        walk(
            (1, 0, router(1)),
            (1, 0, router(1)),
            (2, 0, TARGET),
            extensions=(None, seen, None),
            unplaced=((router(1), 2), (router(7), 3)),
        )
    )
    assert found.hops[0].labels == (label,)
    assert found.hops[0].interfaces == (interface,)
    assert found.hops[1].labels == ()
    assert found.unplaced == (router(7),)


def test_the_exact_test_of_the_lady_tasting_tea():
    # R. A. Fisher, The Design of Experiments (1935), II: of 8 cups, 4 with milk first. All four
    # right: 1 in 70; three or more: 17 in 70.
    assert chance_of_more(4, 4, 0, 4) == pytest.approx(1 / 70)
    assert chance_of_more(3, 4, 1, 4) == pytest.approx(17 / 70)
    assert chance_of_more(0, 0, 1, 4) == 1.0


@given(st.integers(1, 12), st.integers(1, 12), st.data())
def test_the_exact_test_is_a_probability_and_falls_with_the_count(of, other, data):
    count = data.draw(st.integers(0, of))
    others = data.draw(st.integers(0, other))
    chance = chance_of_more(count, of, others, other)
    assert 0.0 < chance <= 1.0 + 1e-12
    if count < of and others:
        assert chance_of_more(count + 1, of, others - 1, other) <= chance


def tallies(*rows):
    """Rows of + and -, in the order sent."""
    return [Tally(tuple(c == "+" for c in row)) for row in rows]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (("+++++", "+++++"), ("all", "all")),
        (("+++++", "-----", "+++++"), ("all", "silent", "all")),
        (("+++++", "-----"), ("all", "silent")),
        # 4 of 5 missed, all of 10 later ones answered: Fisher p = 15 * 10 / C(15, 4) < 0.05.
        (("+++++", "+----", "+++++", "+++++"), ("all", "limited", "all", "all")),
        # 1 of 5 missed is nothing to go by.
        (("+++++", "++-++", "+++++"), ("all", "some", "all")),
        # Every hop from the third on misses most of its probes, those before none.
        (
            ("++++++++++",) * 2 + ("--+----+--",) * 3,
            ("all", "all", "lossy", "some", "some"),
        ),
        # The last one answers: what the third leaves out it leaves out itself.
        (
            ("++++++++++",) * 2 + ("--+----+--",) * 2 + ("++++++++++",),
            ("all", "all", "limited", "limited", "all"),
        ),
        # A bucket of answers that runs dry is no loss, whatever the others do.
        (
            ("++++++++++",) * 2 + ("++--------",) * 3,
            ("all", "all", "some", "some", "some"),
        ),
    ],
)
def test_words_for_how_a_hop_answers(rows, words):
    assert answering(tallies(*rows)) == words


@given(st.lists(st.lists(st.booleans(), min_size=1, max_size=10), max_size=12))
def test_no_hop_is_lossy_before_one_that_is_significantly_better(rows):
    found = [Tally(tuple(row)) for row in rows]
    for place, word in enumerate(answering(found)):
        own = found[place]
        better = [
            chance_of_more(own.missed, own.sent, t.missed, t.sent) < 0.05
            for t in found[place + 1 :]
            if t.answers
        ]
        assert word != "lossy" or not any(better)


def test_a_loss_from_one_hop_on_is_seen_with_enough_probes():
    draw = random.Random(7)
    called = 0
    for _ in range(50):
        clean = [Tally((True,) * 20)] * 3
        lossy = [Tally(tuple(draw.random() > 0.4 for _ in range(20))) for _ in range(4)]
        called += answering([*clean, *lossy])[3] == "lossy"
    assert called >= 40


def same(kind, distance=None):
    return PathChange(kind=kind, distance=distance)


SILENT = (router(1), None, router(3), router(4), TARGET)
MOVED = (router(1), router(2), router(30), router(40), TARGET)
SHORTER = (router(1), router(2), TARGET)
CUT = (router(1), router(2), router(3), None, None)


@pytest.mark.parametrize(
    ("before", "after", "change"),
    [
        ((UPPER, UPPER), (UPPER, UPPER), same("same")),
        ((UPPER,), (SILENT,), same("same")),
        ((UPPER, LOWER), (UPPER, LOWER), same("same")),
        ((UPPER, LOWER), (UPPER, UPPER), same("same")),
        ((UPPER,), (MOVED,), same("changed", 3)),
        ((UPPER, LOWER), (MOVED, MOVED), same("changed", 4)),
        ((UPPER, LOWER), (LOWER, UPPER), same("member", 2)),
        ((UPPER, LOWER), (LOWER, LOWER), same("member", 2)),
        # One way each time, and no sign of a second: it changed.
        ((UPPER, UPPER), (LOWER, LOWER), same("changed", 2)),
        ((UPPER,), (SHORTER,), same("changed", 3)),
        ((UPPER,), (CUT,), same("changed", 4)),
        ((CUT,), (UPPER,), same("changed", 4)),
        ((CUT,), ((*CUT[:2], None, None, None),), same("same")),
        (((None, None),), (UPPER,), same("open")),
        (((None, router(2), TARGET),), ((router(1), None, None),), same("open")),
    ],
)
def test_two_walks_compared(before, after, change):
    assert compare_paths(path_statistics(ways(*before)), path_statistics(ways(*after))) == change


def test_a_refusal_that_was_none_before_is_a_change():
    # RFC 1812 §5.2.7.1: type 3 code 13, administratively prohibited.
    cut = ways((router(1), router(2), router(3)))
    refused = walk((1, 0, router(1)), (2, 0, router(2)))
    fields = {n: getattr(refused, n) for n in HopWalk.__slots__}
    refused = HopWalk(**fields | {"icmp_type": (11, 3), "icmp_code": (0, 13)})
    assert compare_paths(path_statistics(cut), path_statistics(refused)) == same("changed", 2)


def test_hidden_addresses_are_not_compared():
    hidden = walk((1, 0, "address:1"), (2, 0, "address:2"), target="address:2")
    shown = ways((router(1), TARGET))
    assert compare_paths(path_statistics(hidden), path_statistics(shown)) == same("open")


def test_a_walk_compared_with_itself_is_the_same():
    for rows in ((UPPER, LOWER), (SILENT,), (CUT,)):
        found = path_statistics(ways(*rows))
        assert compare_paths(found, found) == same("same")


def test_answers_that_quoted_little_are_answers_all_the_same():
    # Five probes answered without a name, two more placed one at a time.
    rows = [(2, 0, None)] * 5 + [(2, 0, router(2))] * 2
    clean = [(d, 0, a) for d, a in ((1, router(1)), (3, TARGET)) for _ in range(7)]
    terse = walk(*rows, *clean, unplaced=((router(2), 5),))
    assert path_statistics(terse).hops[1].answering == "all"
    assert path_statistics(walk(*rows, *clean)).hops[1].answering == "limited"
