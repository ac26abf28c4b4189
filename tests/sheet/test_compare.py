import io
from dataclasses import replace

import pytest
from records import below, empty, extreme, healthy, lossy, no_lease

from agent.errors import UsageError
from agent.record.seal import seal
from agent.sheet.compare import build_comparison, comparison_html, difference, print_comparison
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
    assert rows["Loss to the server and back"].difference == "no difference beyond the intervals"


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
