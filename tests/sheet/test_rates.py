"""The table behind each rate, and what stands beside its bar."""

from dataclasses import replace

import pytest
from records import below, healthy, held_back, limiter, throughput

from agent.assessment.model import Limiting
from agent.measurements import Direction, Kind, Role, StampClock
from agent.record.seal import redact, seal
from agent.sheet.catalogue import figures, words
from agent.sheet.delays import delay_table
from agent.sheet.rates import rate_table
from agent.sheet.view import build_sheet


def plain(text):
    return text.replace("\xa0", " ")


def rows_of(record):
    named = {text: name for name, text in figures.RATE_ROW.items()}
    return {
        named[label]: tuple(plain(cell) for cell in cells)
        for label, *cells in rate_table(record).rows
    }


def test_each_figure_of_both_ways():
    rows = rows_of(held_back())
    assert rows["single"] == ("86.9", "17.8")
    assert rows["burst"] == ("188", "\N{EN DASH}")
    assert rows["limiter"] == ("the server", "other traffic?")
    assert rows["ended"] == ("narrow interval", "narrow interval")
    assert rows["ideal"] == ("96.5 (sold)", "19.3 (sold)")
    assert rows["ratio"] == ("1.03", "1.01")
    assert rows["efficiency"] == ("\N{EN DASH}", "99.96 %")
    assert rows["buffer"] == ("42 %", "220 %")
    assert rows["round_trip"] == ("14.2 / 20.4", "14.2 / 45.5")
    assert rows["held"] == ("\N{EN DASH}", "0 % / 2.10 %")
    assert "twice" not in rows


def test_the_window_needed_is_a_bandwidth_delay_product():
    """RFC 6349 §3.3.1: rate times round trip, in octets of the record's own figures."""
    download = float(rows_of(healthy())["window"][0])
    assert download == pytest.approx(106.4e6 * 0.01421 / 8 / 1000, rel=0.005)


def test_congestion_control_is_that_of_the_sending_end():
    assert rows_of(healthy())["algorithm"] == ("bbr", "cubic")
    record = healthy()
    silent = replace(record, server=replace(record.server, card={"congestion_control": 7}))
    assert rows_of(silent)["algorithm"] == (figures.NOT_TOLD, "cubic")
    assert rows_of(replace(record, server=None))["algorithm"] == (figures.NOT_TOLD, "cubic")


def test_both_measurements_stand_there_and_the_better_is_the_figure():
    sheet = build_sheet(seal(below()))
    assert rows_of(below())["twice"] == ("47.9 / 47.6", "4.81 / 4.79")
    assert [plain(bar.value) for bar in sheet.rates] == ["47.9 Mbit/s", "4.81 Mbit/s"]
    assert all(bar.sample.startswith("best of 2") for bar in sheet.rates)


def test_the_better_measurement_gives_its_own_sample():
    record = below()
    again = throughput(9, Direction.DOWN, 50.0)
    longer = replace(again.statistics, used_s=8.0, flows=3)
    again = replace(again, statistics=longer, measurement=replace(again.measurement, id="m99"))
    sheet = build_sheet(seal(replace(record, measured=(*record.measured, again))))
    assert plain(sheet.rates[0].sample) == "best of 3: 8.0 s, 3 flows"


def test_delay_beside_one_of_two_transfers_serves_both():
    record = below()
    unknown = {"loaded_rtt_ms": None, "buffer_delay_ratio": None}
    bare = tuple(
        replace(m, statistics=replace(m.statistics, **unknown)) if m.measurement.id == "m09" else m
        for m in record.measured
    )
    rows = rows_of(replace(record, measured=bare))
    assert rows["twice"][0].startswith("47.9")
    assert rows["round_trip"][0] == "14.2 / 20.4"
    assert rows["buffer"][0] == "42 %"


@pytest.mark.parametrize(
    ("who", "confidence", "missed", "aside"),
    [
        (Limiting.LINE, 0.9, False, ""),
        (Limiting.LINE, 0.9, True, "limited by the line"),
        (Limiting.LINE, 0.6, True, ""),
        (Limiting.SERVER, 0.9, False, "limited by the server"),
        (Limiting.LAPTOP, 0.6, False, "possibly limited by this laptop"),
        (Limiting.UNDETERMINED, 1.0, True, ""),
    ],
)
def test_beside_the_bar_stands_only_what_changes_its_meaning(who, confidence, missed, aside):
    record = below() if missed else healthy()
    limiters = (limiter("m09", limiter=who, confidence=confidence),)
    shown = replace(record, assessment=replace(record.assessment, limiters=limiters))
    assert build_sheet(seal(shown)).rates[0].aside == aside


def test_a_burst_stands_beside_the_sustained_rate():
    assert "burst of 188 Mbit/s not counted" in plain(build_sheet(seal(held_back())).rates[0].aside)


def test_round_trips_a_minute_are_those_beside_the_judged_transfer():
    record = healthy()

    def moved(one, by_s, rpm):
        responsive = replace(one.statistics.responsiveness, rpm=rpm)
        return replace(
            one,
            measurement=replace(
                one.measurement, id="x", started_s=one.measurement.started_s + by_s
            ),
            statistics=replace(one.statistics, responsiveness=responsive),
        )

    loaded = [m for m in record.measured if getattr(m.statistics, "responsiveness", None)]
    down = next(m for m in loaded if m.statistics.load == "down")
    more = replace(record, measured=(moved(down, 9.0, 111.0), *record.measured))
    assert rows_of(more)["rpm"] == rows_of(record)["rpm"]
    nearer = replace(record, measured=(*record.measured, moved(down, -0.0, 99.0)))
    assert rows_of(nearer)["rpm"][0] == "99"


def test_one_direction_alone_has_one_column():
    record = healthy()
    kept = tuple(
        m
        for m in record.measured
        if m.measurement.kind is not Kind.THROUGHPUT or m.measurement.direction is Direction.UP
    )
    assert rate_table(replace(record, measured=kept)).head == ("", "upload")


def test_without_a_transfer_there_is_no_table():
    record = healthy()
    kept = tuple(m for m in record.measured if m.measurement.kind is not Kind.THROUGHPUT)
    assert rate_table(replace(record, measured=kept)).rows == ()


def test_loaded_series_stand_below_the_idle_one_with_rise_and_count():
    rows = {row[0]: row for row in delay_table(healthy()).rows}
    assert (rows["server"][1], rows["server"][-1]) == ("800", "")
    assert (rows["server, uploading"][1], rows["server, uploading"][-1]) == ("150", "31")
    assert "rise" in delay_table(healthy()).head


def test_without_load_there_is_no_rise():
    record = healthy()
    idle = tuple(m for m in record.measured if getattr(m.statistics, "load", "none") == "none")
    table = delay_table(replace(record, measured=idle))
    assert "rise" not in table.head
    assert figures.NOTE_RISE not in table.note


def by_other_means(record, method, clock):
    """Return the record with its series to the gateway made by another means."""
    return replace(
        record,
        measured=tuple(
            replace(m, measurement=replace(m.measurement, method=method, clock=clock))
            if m.measurement.kind is Kind.DELAY and m.measurement.role is Role.GATEWAY
            else m
            for m in record.measured
        ),
    )


@pytest.mark.parametrize("method", list(words.BY_METHOD))
def test_another_means_than_the_usual_is_told_and_explained(method):
    table = delay_table(by_other_means(healthy(), method, StampClock.KERNEL))
    assert "gateway" + words.BY_METHOD[method] in {row[0] for row in table.rows}
    assert figures.NOTE_METHOD[method] in table.note
    assert figures.NOTE_METHOD[method] not in delay_table(healthy()).note


def test_a_coarser_clock_is_told_by_whom_it_concerns():
    table = delay_table(by_other_means(healthy(), "tcp-connect", StampClock.USER))
    whom = "gateway, by TCP"
    assert figures.NOTE_CLOCK.format(roles=whom) in table.note
    assert figures.NOTE_CLOCK.format(roles=whom) not in delay_table(healthy()).note


def test_a_series_beside_a_second_transfer_is_counted_not_listed():
    record = healthy()
    again = tuple(m for m in record.measured if getattr(m.statistics, "load", "none") != "none")
    table = delay_table(replace(record, measured=(*record.measured, *again)))
    # Gateway and server, each beside both directions of the second transfers.
    assert len(again) == 4
    assert len(table.rows) == len(delay_table(record).rows)
    assert table.more == words.MORE.format(count=4)


@pytest.mark.parametrize("make", [healthy, below, held_back])
def test_redaction_keeps_every_number_of_rate_and_delay(make):
    stored = seal(make())
    whole, bare = build_sheet(stored), build_sheet(redact(stored))
    assert bare.detail.tables[:2] == whole.detail.tables[:2]
    assert (bare.spreads, bare.courses) == (whole.spreads, whole.courses)
    assert bare.rates == whole.rates
    assert bare.promises == whole.promises
