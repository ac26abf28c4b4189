from dataclasses import replace

import pytest
from records import (
    CASES,
    below,
    empty,
    extreme,
    failed,
    healthy,
    link,
    lossy,
    no_lease,
    unproven,
)

from agent.assessment.model import FitnessFact, Verdict
from agent.diagnosis.model import Diagnosis, Finding, Segment, WalkSegments
from agent.measurements import Kind, Reason, Role
from agent.record.model import PracticeTruth
from agent.record.seal import redact, seal
from agent.sheet.catalogue import figures, findings, since, words
from agent.sheet.model import Ground, Mark
from agent.sheet.view import Anew, build_sheet


def without(record, *roles):
    return tuple(one for one in record.measured if one.measurement.role not in roles)


def plain(text):
    return text.replace("\xa0", " ")


def sheet_of(record):
    return build_sheet(seal(record))


@pytest.mark.parametrize(
    ("make", "verdict", "mark", "reason"),
    [
        (healthy, "Meets what was sold", Mark.KEPT, "5 of 5"),
        (below, "Below what was sold", Mark.MISSED, "Download 47.9"),
        (lossy, "Below what was sold", Mark.MISSED, "Download 71.3"),
        (no_lease, "Below what was sold", Mark.MISSED, "nothing gave an address"),
        (unproven, "Not proven", Mark.OPEN, "the laptop was on Wi-Fi"),
        (empty, "Not proven", Mark.OPEN, "Too little was measured"),
    ],
)
def test_headline(make, verdict, mark, reason):
    head = sheet_of(make()).headline
    assert (head.verdict, head.mark) == (verdict, mark)
    assert reason in head.reason.replace("\xa0", " ")


@pytest.mark.parametrize(
    ("make", "grounds"),
    [
        (healthy, "clear absent clear clear clear clear"),
        (below, "clear absent clear likely clear clear"),
        (lossy, "clear absent clear possible clear clear"),
        (no_lease, "clear absent likely unreached unreached unreached"),
        (unproven, "clear unfit clear clear clear clear"),
        (empty, "unknown absent unknown unknown unknown unknown"),
    ],
)
def test_strip(make, grounds):
    strip = sheet_of(make()).strip
    shown = [cell.ground.value for cell in strip]
    assert " ".join(shown) == grounds
    assert all(cell.state == words.GROUND[cell.ground] for cell in strip)


def test_behind_a_router_the_home_is_part_of_the_way():
    record = healthy()
    routed = replace(record, visit=replace(record.visit, plugged_into="router"))
    home = sheet_of(routed).strip[1]
    assert home.ground is Ground.CLEAR
    assert "0 of 200 lost" in home.evidence.replace("\xa0", " ")


@pytest.mark.parametrize(("taken_for", "place"), [(Segment.MODEM, 2), (Segment.ACCESS, 3)])
def test_at_the_modem_the_gateways_answers_stand_where_it_was_taken_to_be(taken_for, place):
    record = replace(healthy(), measured=without(healthy(), Role.FIRST_HOP, Role.MODEM))
    walk = WalkSegments(measurement="path-1", hops=(taken_for, Segment.OPERATOR))
    diagnosis = replace(record.diagnosis, walks=(walk,))
    strip = sheet_of(replace(record, diagnosis=diagnosis)).strip
    shown = [at for at, cell in enumerate(strip) if "0 of 200 lost" in plain(cell.evidence)]
    assert shown == [place]


def test_a_modem_that_is_the_gateway_is_shown_once_though_no_walk_answered():
    record = healthy()
    (gateway,) = (
        one
        for one in record.measured
        if one.measurement.role is Role.GATEWAY and one.statistics.load == "none"
    )
    seen = gateway.measurement
    modem = replace(gateway, measurement=replace(seen, role=Role.MODEM, id="modem"))
    measured = (*without(record, Role.FIRST_HOP, Role.MODEM), modem)
    strip = sheet_of(replace(record, measured=measured)).strip
    shown = [at for at, cell in enumerate(strip) if "0 of 200 lost" in plain(cell.evidence)]
    assert shown == [2]


def test_a_segment_that_answers_nothing_itself_is_clear_when_traffic_passes():
    assert sheet_of(healthy()).strip[2].evidence == words.STRIP_PASSES


@pytest.mark.parametrize(
    ("make", "step"),
    [
        (healthy, findings.STEP_MEETS),
        (below, findings.STEP["check-provisioning"][0]),
        (unproven, findings.STEP["plug-in-cable"][0]),
        (empty, findings.STEP_UNPROVEN),
    ],
)
def test_next_step(make, step):
    assert sheet_of(make()).next_step.text == step


def test_what_kept_the_verdict_open_gives_the_step_where_no_finding_does():
    record = replace(unproven(), diagnosis=Diagnosis(segment=Segment.UNDETERMINED))
    assert sheet_of(record).next_step.text == findings.STEP["repeat-fit"][0]


def test_a_code_without_words_shows_itself():
    finding = Finding(
        code="from-the-future", segment=Segment.ACCESS, confidence=0.9, next_step="later-step"
    )
    record = replace(below(), diagnosis=Diagnosis(segment=Segment.ACCESS, findings=(finding,)))
    sheet = sheet_of(record)
    assert "from-the-future" in sheet.listings[0].items[0]
    assert "later-step" in sheet.next_step.text


def test_advice_names_no_segment():
    finding = Finding(
        code="delay-rises-under-load",
        segment=Segment.NONE,
        confidence=0.9,
        next_step="set-queue-management",
        values={"limit_ms": 30.0, "up_ms": 62.0},
    )
    record = replace(healthy(), diagnosis=Diagnosis(segment=Segment.NONE, findings=(finding,)))
    sheet = sheet_of(record)
    assert sheet.listings[0].items[0].startswith("Advice: A full line raises its delay")
    assert all(cell.ground in (Ground.CLEAR, Ground.ABSENT) for cell in sheet.strip)


def test_a_rate_that_the_server_held_back_says_so_and_why():
    record = below()
    held = Reason(code="limited", values={"by": "server", "why": "crowded"})
    open_ = tuple(
        replace(c, outcome=Verdict.NOT_PROVEN, reason=held) if c.unit == "bps" else c
        for c in record.assessment.criteria
    )
    note = sheet_of(judged(record, criteria=open_)).rates[0].note
    assert note.startswith("Missed, but the server held the rate back (others on it): it says")


def test_a_rise_rests_on_the_probes_under_load():
    record = healthy()
    loss = next(c for c in record.assessment.criteria if c.name == "server-loss")
    loaded = next(m for m in record.measured if getattr(m.statistics, "load", "") == "up")
    ids = (*loss.measurements, loaded.measurement.id)
    rise = replace(loss, name="server-delay-rise-up", unit="ms", measurements=ids)
    shown = sheet_of(judged(record, criteria=(rise,))).promises[0]
    assert (shown.label, shown.sample) == ("Rise of delay while uploading", "150 probes")


def test_a_missing_value_of_a_known_code_is_a_dash():
    finding = Finding(
        code="dns-slow", segment=Segment.OPERATOR, confidence=0.5, next_step="report-resolver"
    )
    record = replace(healthy(), diagnosis=Diagnosis(segment=Segment.OPERATOR, findings=(finding,)))
    assert "\N{EN DASH} median" in sheet_of(record).listings[0].items[0]


def test_rates_show_sold_accepted_and_measured_at_one_layer():
    bar = sheet_of(below()).rates[0]
    assert bar.scale.sold == pytest.approx(bar.scale.limit / 0.95)
    assert bar.scale.value == pytest.approx(bar.scale.sold * 47.9 / (100 * 1448 / 1500))
    assert "IP" in bar.sold
    assert "96.53" in bar.note


def test_what_was_not_measured_says_why_once_for_each_cause():
    missing = sheet_of(no_lease()).listings[2]
    assert len(missing.items) == 1
    assert "no usable address" in missing.items[0]
    for what in ("names", "delay", "path", "web", "throughput"):
        assert what in missing.items[0]


def test_a_busy_server_says_how_long_it_asked_to_wait():
    record = healthy()
    values = {"address": "198.51.100.20", "wait_s": 45.0}
    busy = failed(Kind.THROUGHPUT, Role.SERVER, Reason(code="server-busy", values=values))
    shown = sheet_of(replace(record, measured=(*record.measured, busy))).listings[2]
    assert shown.items[0].replace("\xa0", " ").endswith("asked for a wait of 45 s")


def test_a_server_that_stays_busy_says_how_long_was_waited():
    record = healthy()
    values = {"address": "198.51.100.20", "wait_s": 45.0, "waited_s": 100.0}
    busy = failed(Kind.THROUGHPUT, Role.SERVER, Reason(code="server-busy", values=values))
    waited = replace(record.server, waited_s=100.0)
    sheet = sheet_of(replace(record, measured=(*record.measured, busy), server=waited))
    said = sheet.listings[2].items[0].replace("\xa0", " ")
    assert said.endswith("it asked for 45 s after a wait of 100 s")
    pairs = {pair.label: pair.value for block in sheet.facts for pair in block.pairs}
    assert pairs["Waited for its turn"].replace("\xa0", " ") == "100 s"


def test_an_unknown_cause_shows_its_code():
    record = healthy()
    odd = failed(Kind.DNS, Role.RESOLVER, Reason(code="solar-flare"))
    shown = sheet_of(replace(record, measured=(*record.measured, odd))).listings[2]
    assert "solar-flare" in shown.items[0]


def test_fitness_says_what_is_not_judged_by_it():
    facts = (
        FitnessFact(name="processor_busy", voids=("throughput",), measured=0.93, unit="ratio"),
        FitnessFact(name="on_battery", voids=("throughput",)),
        FitnessFact(name="unheard-of", voids=("all",)),
        FitnessFact(name="harmless", voids=()),
    )
    void = Reason(code="unfit", values={"fact": "processor_busy", "measured": 0.93})
    record = healthy()
    first, *rest = record.assessment.criteria
    open_ = replace(first, outcome=Verdict.NOT_PROVEN, reason=void)
    told = replace(record.assessment, fitness=facts, criteria=(open_, *rest))
    shown = sheet_of(replace(record, assessment=told))
    assert [item.replace("\xa0", " ") for item in shown.listings[1].items] == [
        "The laptop's processor was busy (93 %); not judged by it: throughput",
        "The laptop ran on battery; nothing was left unjudged for it alone",
        "Fitness fact unheard-of; not judged by it: everything",
        "Fitness fact harmless; only noted",
    ]


def test_lists_are_cut_with_the_count_of_what_is_left():
    sheet = sheet_of(extreme())
    findings = sheet.listings[0]
    assert len(findings.items) + int(findings.more.split()[1]) == 60
    assert sheet.promises_more.endswith("more in the record")


def test_banners():
    record = healthy()
    played = replace(record, practice=PracticeTruth(fault=None, severity=None, truth={}))
    assert words.BANNER_PRACTICE in sheet_of(played).banners
    assert build_sheet(redact(seal(record))).banners == (words.BANNER_REDACTED,)
    anew = Anew(settings="strict.toml", sha256="ab" * 32, verdict=record.assessment.verdict)
    (said,) = build_sheet(seal(record), judged_anew=anew).banners
    assert "strict.toml" in said
    assert "abababab" in said
    assert since.VERDICT_STANDS in said
    (turned,) = build_sheet(seal(record), judged_anew=replace(anew, verdict=Verdict.BELOW)).banners
    assert words.VERDICT[Verdict.BELOW] in turned
    assert sheet_of(record).banners == ()


def test_what_the_practice_network_played_has_words_and_units():
    truth = {"down_bps": 50_500_000, "loss_up": 0.01, "translated": True, "new_thing_ms": 4.0}
    played = PracticeTruth(fault="slow-line", severity="half", truth=truth)
    block = sheet_of(replace(healthy(), practice=played)).facts[-1]
    shown = {pair.label: pair.value.replace("\xa0", " ") for pair in block.pairs}
    assert shown == {
        "Fault": "slow-line, half",
        "Download": "50.5 Mbit/s",
        "Loss up": "1 %",
        "Addresses translated": "yes",
        "new thing": "4 ms",
    }


def test_series_stand_in_the_order_of_the_way():
    record = healthy()
    turned = sheet_of(replace(record, measured=record.measured[::-1])).spreads
    expected = "gateway; first hop; server; server, downloading; server, uploading"
    assert "; ".join(row.label for row in turned.rows) == expected


def test_a_loaded_series_before_the_server_stands_where_a_finding_rests_on_it():
    record = healthy()
    (near,) = (
        m.measurement.id
        for m in record.measured
        if m.measurement.role is Role.GATEWAY and getattr(m.statistics, "load", "") == "up"
    )
    finding = Finding(
        code="slow-line", segment=Segment.ACCESS, confidence=0.8, next_step="", evidence=(near,)
    )
    told = replace(record, diagnosis=replace(record.diagnosis, findings=(finding,)))
    rows = [row.label for row in sheet_of(told).spreads.rows]
    assert rows[:2] == ["gateway", "gateway, uploading"]


def test_a_limit_without_a_measurement_is_printed_plainly():
    record = healthy()
    missing = tuple(
        replace(c, measured=None, low=None, high=None, reason=Reason(code="silent"))
        for c in record.assessment.criteria
    )
    sheet = sheet_of(replace(record, assessment=replace(record.assessment, criteria=missing)))
    assert "0.5 %" in sheet.promises[0].limit.replace("\xa0", " ")
    assert "payload" not in sheet.rates[0].note


def test_redaction_keeps_every_judged_number():
    stored = seal(lossy())
    whole, bare = build_sheet(stored), build_sheet(redact(stored))
    assert (bare.rates, bare.promises, bare.headline) == (
        whole.rates,
        whole.promises,
        whole.headline,
    )
    assert "Okafor" not in str(bare)
    assert "198.51.100" not in str(bare)


def test_local_time_and_offset():
    record = replace(healthy(), utc_offset_min=-210)
    # 09:14:07 UTC less three and a half hours.
    assert "March 2, 2026, 05:44:07 (UTC-03:30)" in sheet_of(record).dated


@pytest.mark.parametrize("started", ["not a time", "9999-99-99", ""])
def test_a_time_that_is_none_does_not_break_the_page(started):
    assert sheet_of(replace(healthy(), started=started, finished=started)).headline


def test_a_port_without_link():
    record = healthy()
    down = link()
    down = replace(down, statistics=replace(down.statistics, up=False))
    shown = sheet_of(replace(record, measured=(down,)))
    assert {p.label: p.value for p in shown.headline.beside}["Port"] == "port without link"


@pytest.mark.parametrize("case", CASES)
def test_every_text_is_bounded_and_printable(case):
    for text in texts(
        sheet_of(
            CASES[case]("\x1b[31m\u202e<b>#strong" * 30) if case == "extreme" else CASES[case]()
        )
    ):
        assert len(text) <= 400
        assert not set(text) & set("\x1b\n\r\u202e\u2066")


def texts(value):
    from dataclasses import fields, is_dataclass

    if is_dataclass(value):
        for field in fields(value):
            yield from texts(getattr(value, field.name))
    elif isinstance(value, tuple):
        for item in value:
            yield from texts(item)
    elif isinstance(value, str):
        yield value


def test_every_outcome_and_ground_has_a_word():
    assert set(words.OUTCOME) == {v.value for v in Verdict}
    assert set(words.GROUND) == {g.value for g in Ground}


def judged(record, **changes):
    return replace(record, assessment=replace(record.assessment, **changes))


def test_a_rate_met_as_far_as_the_port_can_show_says_so():
    record = healthy()
    first, *rest = record.assessment.criteria
    sheet = sheet_of(judged(record, criteria=(replace(first, at_least=True), *rest)))
    assert sheet.headline.reason == words.REASON_MEETS_PORT
    assert figures.AT_LEAST_PORT in sheet.rates[0].note


@pytest.mark.parametrize(
    ("code", "step"),
    [
        ("tunnel", findings.STEP["switch-tunnel-off"][0]),
        ("no-tier", findings.STEP_BY_REASON["no-tier"]),
    ],
)
def test_what_decided_without_a_criterion_gives_reason_and_step(code, step):
    record = judged(empty(), verdict=Verdict.NOT_PROVEN, deciding=(code,))
    sheet = sheet_of(record)
    assert sheet.headline.reason == words.REASON[code]
    assert sheet.next_step.text == step


def test_below_without_any_finding_still_has_a_reason_and_a_step():
    record = replace(no_lease(), diagnosis=Diagnosis(segment=Segment.UNDETERMINED))
    sheet = sheet_of(record)
    assert sheet.headline.reason == "Address held: none held."
    assert sheet.next_step.text == findings.STEP_BELOW
