import io
from dataclasses import replace

import pytest
from records import below, empty, extreme, healthy, lossy, no_lease

from agent.errors import UsageError
from agent.record import difference
from agent.record.seal import seal
from agent.sheet.compare import build_comparison, comparison_html, print_comparison
from agent.sheet.terminal import console_for

RATE = healthy().assessment.criteria[0]


def with_interval(low, high):
    return replace(RATE, low=low, high=high, measured=(low + high) / 2)


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        ((10, 12), (13, 15), "higher"),
        ((13, 15), (10, 12), "lower"),
        ((10, 12), (12, 15), "same"),
        ((10, 20), (12, 13), "same"),
    ],
)
def test_a_difference_counts_beyond_both_intervals(first, last, said):
    assert difference(with_interval(*first), with_interval(*last)) == said


def test_what_has_no_interval_or_another_layer_cannot_be_told():
    assert difference(RATE, None) == "open"
    assert difference(RATE, replace(RATE, low=None)) == "open"
    assert difference(RATE, replace(RATE, layer="wire")) == "open"


def test_before_and_after_stand_side_by_side():
    comparison = build_comparison([seal(below()), seal(healthy())])
    rows = {row.label: row for row in (*comparison.about, *comparison.criteria)}
    assert rows["Verdict"].cells == ("Below what was sold", "Meets what was sold")
    assert rows["Download"].difference == "higher, beyond both intervals"
    assert rows["Loss to the server and back"].difference == ""


def rows_of(*records):
    comparison = build_comparison([seal(record) for record in records])
    return {row.label: row for row in (*comparison.about, *comparison.criteria)}


def test_what_is_the_same_is_told_once_and_what_changed_is_named():
    before = healthy()
    moved = replace(before.visit, spot="attic", plugged_into="router")
    rows = rows_of(before, replace(before, visit=moved, settings_sha256="f" * 64))
    for changed in ("Spot", "Plugged into", "Settings"):
        assert rows[changed].difference == "changed"
    for same in ("Verdict", "Fault", "Found", "Sold", "Port", "Download", "Decision rule"):
        assert rows[same].cells[1:] == ("same",), same
        assert rows[same].difference == "", same


def test_findings_stand_side_by_side_and_advice_is_none():
    found = rows_of(healthy(), lossy())["Found"]
    assert found.cells[0] == "\N{EN DASH}"
    assert found.cells[1] != "same"
    assert found.difference == "changed"


def test_a_limit_that_changed_is_told():
    record = healthy()
    first, *rest = record.assessment.criteria
    stricter = replace(first, limit=first.limit * 1.01)
    other = replace(record, assessment=replace(record.assessment, criteria=(stricter, *rest)))
    assert rows_of(record, other)["Download"].difference == "within the intervals; another limit"


def test_four_records_of_different_make_are_shown_in_both_faces():
    records = [seal(r) for r in (empty(), no_lease(), lossy(), extreme("<i>x\x1b"))]
    comparison = build_comparison(records)
    out = io.StringIO()
    print_comparison(comparison, console_for(out, 120))
    html = comparison_html(comparison)
    for stored in records:
        assert stored.record.record_id in html
        assert stored.record.record_id in out.getvalue().replace("\n", "")
    assert "<i>" not in html
    assert "\x1b" not in out.getvalue()


@pytest.mark.parametrize("count", [0, 1, 5])
def test_too_few_or_too_many_records_are_refused(count):
    with pytest.raises(UsageError, match=str(count)):
        build_comparison([seal(healthy())] * count)
