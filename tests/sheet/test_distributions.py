"""What the page draws of delay and rate: the observations of the record, and the figures beside."""

from dataclasses import replace

import pytest
from records import CASES, below, empty, healthy

from agent.measurements import EchoOutcome, Kind, Role
from agent.sheet.courses import build_courses
from agent.sheet.delays import figures_of_series
from agent.sheet.mounds import log_axis
from agent.sheet.spreads import MOST_ON_PAGE, answered_ms, every_spread, page_spreads


def series(record, role, load="none"):
    return next(
        m
        for m in record.measured
        if m.measurement.kind is Kind.DELAY
        and m.measurement.role is role
        and m.statistics.load == load
    )


def changed(record, one, **observed):
    again = replace(one.measurement, observed=replace(one.measurement.observed, **observed))
    other = replace(one, measurement=again)
    return replace(record, measured=tuple(other if m is one else m for m in record.measured))


def test_the_rows_go_outwards_and_end_under_load():
    rows = [row.label for row in page_spreads(healthy()).rows]
    assert rows == ["gateway", "first hop", "server", "server, downloading", "server, uploading"]


def test_the_cells_are_the_figures_of_the_series():
    record = healthy()
    row = page_spreads(record).rows[2]
    sent, lost, median, p95, _ = figures_of_series(series(record, Role.SERVER).statistics)
    assert row.cells == (median, p95, lost, sent)


def test_late_and_lost_probes_are_not_drawn():
    record = healthy()
    one = series(record, Role.SERVER)
    seen = one.measurement.observed
    outcome = (EchoOutcome.LATE, EchoOutcome.LOST, *seen.outcome[2:])
    rtt = (29_000.0, None, *seen.rtt_ms[2:])
    late = changed(record, one, outcome=outcome, rtt_ms=rtt)
    drawn = answered_ms(series(late, Role.SERVER).measurement)
    assert len(drawn) == sum(out is EchoOutcome.ANSWERED for out in outcome)
    assert max(drawn) < 29_000


def test_all_series_share_one_axis():
    spreads = page_spreads(below())
    every = [
        rtt
        for m in below().measured
        if m.measurement.kind is Kind.DELAY
        for rtt in answered_ms(m.measurement)
    ]
    axis = log_axis(every)
    server = series(below(), Role.SERVER).statistics.rtt_ms
    drawn = next(row for row in spreads.rows if row.label == "server")
    assert drawn.median_at == pytest.approx(axis.at(server.median), abs=0.05)
    assert drawn.p95_at >= drawn.median_at


def test_what_is_promised_of_the_idle_server_stands_on_its_row_alone():
    record = healthy()
    first = record.assessment.criteria[0]
    one = series(record, Role.SERVER)
    promise = replace(
        first,
        name="server-delay-median",
        unit="ms",
        needed=True,
        limit=30.0,
        measurements=(one.measurement.id,),
    )
    told = replace(record, assessment=replace(record.assessment, criteria=(promise,)))
    marked = {row.label for row in page_spreads(told).rows if row.limit_at is not None}
    assert marked == {"server"}


def test_a_series_of_losses_says_so_beside_the_others():
    record = healthy()
    one = series(record, Role.GATEWAY)
    count = len(one.measurement.observed.sent_s)
    silent = changed(record, one, outcome=(EchoOutcome.LOST,) * count, rtt_ms=(None,) * count)
    gone = series(silent, Role.GATEWAY)
    dead = replace(gone, statistics=replace(gone.statistics, received=0))
    whole = replace(silent, measured=tuple(dead if m is gone else m for m in silent.measured))
    row = page_spreads(whole).rows[0]
    assert row.silent
    assert row.heights == ()


def test_nothing_that_came_back_is_no_drawing():
    assert page_spreads(empty()) is None
    assert build_courses(empty()) is None


@pytest.mark.parametrize("case", [name for name in CASES if name != "empty"])
def test_what_is_drawn_lies_within_its_box(case):
    record = CASES[case]()
    for spreads in (page_spreads(record), every_spread(record)):
        for row in spreads.rows if spreads else ():
            assert all(0 <= height <= 1 for height in row.heights)
            marks = (row.median_at, row.p95_at, row.limit_at)
            assert all(0 <= at <= 1 for at in marks if at is not None)
    courses = build_courses(record)
    for row in courses.rows if courses else ():
        assert all(0 <= height <= 1 for height in row.heights)
        assert 0 <= row.counted_from <= row.counted_to <= 1
        assert 0 <= row.mean_at <= 1


def test_the_page_has_room_for_few_and_the_second_sheet_for_all():
    page, every = page_spreads(healthy()), every_spread(healthy())
    assert len(page.rows) <= MOST_ON_PAGE
    assert {row.label for row in page.rows} < {row.label for row in every.rows}


def test_the_mean_beside_a_course_is_the_figure_beside_its_bar():
    from agent.sheet.bars import rate_bars

    for make in (healthy, below):
        courses = build_courses(make())
        assert [row.mean for row in courses.rows] == [bar.value for bar in rate_bars(make())]


def test_a_course_is_as_high_as_its_rate():
    """A transfer that brings the same in every slice is flat at its mean."""
    record = healthy()
    one = next(m for m in record.measured if m.measurement.kind is Kind.THROUGHPUT)
    seen, rate_bps = one.measurement.observed, 80e6
    ends = tuple((i + 1) * 0.1 for i in range(len(seen.slice_end_s)))
    flat = changed(
        record, one, slice_end_s=ends, slice_bytes=(int(rate_bps / 8 * 0.1),) * len(ends)
    )
    flat = replace(
        flat,
        measured=tuple(
            replace(m, statistics=replace(m.statistics, goodput_bps=rate_bps))
            if m.measurement.id == one.measurement.id
            else m
            for m in flat.measured
        ),
    )
    course = build_courses(flat).rows[0]
    drawn = [height for height in course.heights if height]
    assert drawn == pytest.approx([course.mean_at] * len(drawn), rel=0.01)
