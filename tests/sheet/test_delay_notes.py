"""What the page says of the series to the server beyond its row: runs, order, copies, a call."""

import io
import json
import re
from dataclasses import fields, is_dataclass, replace

import pytest
from records import extreme, healthy, lossy

from agent.measurements import EchoOutcome, Kind, Role
from agent.measurements.statistics import DelayStatistics
from agent.record.seal import seal
from agent.record.typed import document_of, record_of
from agent.sheet.html import html_of
from agent.sheet.pdf import pdf_of
from agent.sheet.terminal import console_for, print_sheet
from agent.sheet.view import build_sheet
from agent.stats.delay import delay_statistics


def reduced(record, change=lambda series: series):
    """Return the record with its delay series changed and reduced anew."""
    return replace(record, measured=tuple(_reduced(one, change) for one in record.measured))


def _reduced(one, change):
    m = one.measurement
    if m.kind is not Kind.DELAY or m.observed is None or not one.statistics:
        return one
    series = change(m.observed) if m.role is Role.SERVER else m.observed
    return replace(
        one, measurement=replace(m, observed=series), statistics=delay_statistics(series)
    )


def spoiled(series):
    """Lose 7 probes in runs of 3, 1 and 3, swap two answers, double one."""
    gone = (100, 101, 102, 300, 500, 501, 502)
    answered = [n for n in range(len(series.sent_s)) if n not in gone]
    order = [*answered[:10], answered[11], answered[10], *answered[12:]]
    return replace(
        series,
        rtt_ms=tuple(None if n in gone else 20.0 for n in range(len(series.sent_s))),
        outcome=tuple(
            EchoOutcome.LOST if n in gone else EchoOutcome.ANSWERED
            for n in range(len(series.sent_s))
        ),
        copies=tuple(
            0 if n in gone else 2 if n % 10 == 9 else 1 for n in range(len(series.sent_s))
        ),
        arrival_order=tuple(order),
        far_received=None,
    )


def note_of(record):
    sheet = build_sheet(seal(record))
    return sheet, " ".join(table.note for table in sheet.detail.tables)


def test_a_call_is_estimated_with_its_assumptions_beside_it():
    """R and MOS by G.107 simplified (from memory): 93.2 - 0.024 (10 + 20 + 60) = 91.04; its MOS
    4.36 (Annex B); the upper bound of no loss in 800 is 0.478 % (Wilson 1927): R 89.3."""
    flat = reduced(healthy(), lambda s: replace(s, rtt_ms=(20.0,) * len(s.sent_s)))
    sheet, note = note_of(flat)
    assert "R 91 (89-91), MOS 4.4 (4.3-4.4)" in note
    for assumed in ("G.711", "20 ms of voice a packet", "buffer 60 ms", "half the least"):
        assert assumed in note
    assert "estimated, not judged" in note
    assert all("call" not in promise.label.lower() for promise in sheet.promises)


def test_runs_order_and_copies_are_told_where_there_are_any():
    _, note = note_of(reduced(lossy(), spoiled))
    assert "7 lost in 3 runs of up to 3" in note
    assert "Answers of the server out of order: 1, by up to 1 in place" in note
    assert "that came more than once" in note


def test_a_record_without_the_new_figures_still_reads():
    document = json.loads(json.dumps(document_of(healthy())))
    new = ("loss_bounds", "gaps", "variation", "reordering", "duplication_ratio", "voice")
    for one in document["measurements"]:
        if one["kind"] == "delay":
            for name in new:
                one["statistics"].pop(name, None)
    _, note = note_of(record_of(document, "old"))
    assert "E-model" not in note


@pytest.mark.parametrize("change", [lambda s: s, spoiled])
def test_the_figures_come_back_from_a_document(change):
    record = reduced(healthy(), change)
    again = record_of(json.loads(json.dumps(document_of(record))), "copy")
    assert again.measured == record.measured
    server = next(
        one.statistics
        for one in again.measured
        if one.measurement.role is Role.SERVER and isinstance(one.statistics, DelayStatistics)
    )
    assert server.voice is not None
    assert all(not is_dataclass(v) or fields(v) for v in (server.loss_bounds, server.variation))


@pytest.mark.parametrize("make", [healthy, lossy, extreme])
def test_every_face_has_it_on_the_second_sheet_and_that_is_one_page(make):
    record = reduced(make(), spoiled if make is not extreme else lambda s: s)
    sheet, note = note_of(record)
    pdf = pdf_of(sheet, detail=True)
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf)) == 2
    if make is extreme:
        return
    assert "E-model" in note
    assert "E-model" in html_of(sheet, detail=True)
    screen = io.StringIO()
    print_sheet(sheet, console_for(screen, width=100), detail=True)
    assert "E-model" in screen.getvalue()
