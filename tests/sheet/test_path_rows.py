"""The path on the page: condensed, parallel ways and labels shown, why it ended said."""

import re
from dataclasses import replace

import pytest
from measured_samples import SERVER, hop, path
from records import base_measured, healthy

from agent.diagnosis.model import WalkSegments
from agent.measurements import HopLabel, PathStatistics, RoundTrip
from agent.record import Hop, PathChange, Segment
from agent.record.seal import seal
from agent.sheet.comparison import build_comparison
from agent.sheet.html import html_of
from agent.sheet.numbers import DASH, count_of
from agent.sheet.path_rows import MOST_ROWS, path_block, path_cell
from agent.sheet.pdf import pdf_of
from agent.sheet.single import build_single
from agent.sheet.view import build_sheet


def silent(distance):
    return Hop(distance=distance, sent=5, answered=0, rtt_ms=RoundTrip(count=0))


def record_of(*hops, **ending):
    statistics = PathStatistics(hops=hops, **({"reached": True} | ending))
    walk = replace(path(), statistics=statistics)
    base = healthy()
    kept = [one for one in base_measured(base) if one.measurement.kind.value != "path"]
    return replace(base, measured=(*kept, walk))


def rows(*hops, **ending):
    return [(p.label, p.value) for p in path_block(record_of(*hops, **ending)).pairs]


def test_a_run_of_silent_hops_is_one_row():
    near, far = hop(1, 0.5, "192.0.2.1"), hop(5, 14.0, SERVER)
    found = rows(near, silent(2), silent(3), silent(4), far)
    assert [label for label, _ in found] == ["1", f"2{DASH}4", "5"]
    assert found[1][1] == "3 hops, silent"
    assert rows(near, silent(2), far)[1] == ("2", "silent")


def test_a_row_says_what_part_of_the_way_its_hops_are():
    """As the diagnosis took them; a row of several parts, or of none known, says nothing."""
    hops = [hop(1, 0.5, "192.0.2.1"), silent(2), silent(3), hop(4, 9.0, "198.51.100.1")]
    record = record_of(*hops, silent(5), hop(6, 14.0, SERVER))
    measurement = record.measured[-1].measurement.id
    taken = (
        Segment.HOME,
        Segment.UNDETERMINED,
        Segment.ACCESS,
        Segment.OPERATOR,
        Segment.OPERATOR,
        Segment.BEYOND,
    )
    walks = (WalkSegments(measurement=measurement, hops=taken),)
    diagnosis = replace(record.diagnosis, walks=walks)
    found = [p.value for p in path_block(replace(record, diagnosis=diagnosis)).pairs]
    bare = [p.value for p in path_block(record).pairs]
    endings = [" (home)", "", " (operator)", " (operator)", " (beyond)"]
    assert found == [value + ending for value, ending in zip(bare, endings, strict=True)]


def test_a_long_walk_keeps_both_ends_and_counts_what_is_between():
    hops = [hop(i, float(i), f"198.51.100.{i}") for i in range(1, 31)]
    found = rows(*hops)
    assert len(found) == MOST_ROWS
    shown = sum(label.isdecimal() for label, _ in found)
    assert f"{30 - shown} hops more" in found[4][1]
    assert [label for label, _ in found] == ["1", "2", "3", "4", "…", "29", "30"]


def test_silent_hops_are_counted_in_what_is_left_out():
    hops = [silent(i) if i in {7, 8} else hop(i, 1.0, f"198.51.100.{i}") for i in range(1, 13)]
    found = rows(*hops)
    # Distances 5 to 10 are left out, though they are five rows.
    assert found[4] == ("…", "6 hops more")


def test_several_ways_are_not_lost_in_what_is_left_out():
    hops = [hop(i, 1.0, f"198.51.100.{i}") for i in range(1, 13)]
    hops[7] = replace(hops[7], addresses=("198.51.100.8", "198.51.100.80"))
    assert rows(*hops)[4] == ("…", "6 hops more, several ways at 8")


def test_parallel_ways_stand_beside_each_other():
    two = replace(hop(3, 9.0, "198.51.100.3"), addresses=("198.51.100.3", "198.51.100.30"))
    assert "198.51.100.3 or 198.51.100.30" in rows(two)[0][1]
    three = replace(two, addresses=(*two.addresses, "198.51.100.31"))
    assert "198.51.100.3 or 2 more ways" in rows(three)[0][1]


def test_labels_and_limited_answers_are_said():
    # RFC 4950 §3 shows such a stack: the label switched first, then the one below.
    labels = (
        HopLabel(label=100048, traffic_class=0, bottom=False, ttl=1),
        HopLabel(label=16, traffic_class=0, bottom=True, ttl=1),
    )
    found = rows(replace(hop(2, 3.0), labels=labels, answering="limited"))
    assert "label 100048/16" in found[0][1]
    assert "limits its answers" in found[0][1]


@pytest.mark.parametrize("answering", ["all", "some", "silent", None])
def test_few_missing_answers_are_no_matter(answering):
    plain, told = hop(2, 3.0), replace(hop(2, 3.0), answering=answering)
    assert rows(told) == rows(plain)


@pytest.mark.parametrize(
    ("code", "said"),
    [("silent", "silent"), ("loop", "loop"), ("prohibited", "prohibited"), ("hop-limit", "tried")],
)
def test_why_a_walk_ended_is_said(code, said):
    record = record_of(hop(1, 1.0), hop(2, 2.0), reached=False, stopped_at=2, stop_code=code)
    title = path_block(record).title
    assert "ended at hop 2" in title
    assert said in title


def test_a_walk_measured_alone_shows_every_hop_once():
    named = replace(hop(3, 14.0, SERVER), names=("card.ternbay.example",))
    record = record_of(hop(1, 0.5, "192.0.2.1"), silent(2), named)
    (block,) = (b for b in build_single(record) if b.title.startswith("path"))
    found = {p.label: p.value for p in block.pairs}
    assert found["hop 2"] == f"silent, {count_of(0, 5)}"
    assert found["hop 3"].endswith(f"{count_of(3, 3)}, card.ternbay.example")
    assert not any(label.startswith(("hops", "links")) for label in found)


def test_an_answer_without_a_distance_is_shown_as_such():
    found = rows(hop(1, 1.0), unplaced=("198.51.100.7",))
    assert found[-1] == ("?", "198.51.100.7, distance unknown")


def test_the_longest_rows_stay_on_one_page():
    addresses = tuple(f"2001:db8:ffff:ffff:ffff:ffff:ffff:{i:04x}" for i in range(4))
    labels = tuple(
        HopLabel(label=1_048_575, traffic_class=7, bottom=False, ttl=255) for _ in range(9)
    )
    hops = [
        replace(hop(i, 999.0), addresses=addresses, labels=labels, answering="lossy")
        for i in range(1, 31)
    ]
    record = record_of(*hops, unplaced=addresses)
    sheet = build_sheet(seal(record))
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf_of(sheet, "letter"))) == 1
    assert "1048575/1048575/1048575" in html_of(sheet)
    assert all(len(p.value) <= 120 for p in path_block(record).pairs)


def way_of(comparison):
    return next(row for row in comparison.facts if row.label == "Path to the server")


def test_records_side_by_side_say_whether_the_way_changed():
    one = seal(record_of(hop(1, 1.0), hop(2, 2.0, SERVER)))
    row = way_of(build_comparison([one, one], PathChange(kind="changed", distance=2)))
    assert row.cells == (path_cell(one),) * 2
    assert row.cells[0] == "2 hops, reached"
    assert row.change.text == "another way from hop 2"
    assert way_of(build_comparison([one, one])).change.text == "cannot be told"


def test_without_a_walk_there_is_no_row():
    bare = replace(healthy(), measured=())
    assert path_block(bare).pairs == ()
    labels = [row.label for row in build_comparison([seal(bare)] * 2).facts]
    assert "Path to the server" not in labels
