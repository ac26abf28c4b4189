"""The page without its diagnosis tells nothing of it; the lesson afterwards tells all of it."""

from dataclasses import fields, is_dataclass, replace
from io import StringIO
from itertools import cycle

import pytest
from records import below, healthy, held_back

from agent.diagnosis.model import Diagnosis, Finding, Segment
from agent.measurements import Kind, LinkStatistics, MtuStatistics, ReachStatistics
from agent.measurements.reach import PortStatistics, Transport
from agent.record.model import PracticeTruth, StoredRecord
from agent.record.seal import seal
from agent.sheet.catalogue import areas, words
from agent.sheet.lesson import Taught, lesson_of
from agent.sheet.model import Ground
from agent.sheet.terminal import console_for, print_choices, print_listings, print_sheet
from agent.sheet.training import training_sheet, without_diagnosis
from agent.sheet.training_evidence import evidence_of
from agent.sheet.view import build_sheet
from agent.sheet.wording import finding_sentence, step_texts

RECORDS = [healthy, below, held_back]
TRUTH = PracticeTruth(fault="slow-line", severity="severe", truth={"segment": "access", "seed": 9})
FAULTY = (Segment.LAPTOP, Segment.HOME, Segment.ACCESS, Segment.BEYOND, Segment.NONE)


def texts(value):
    """Return every text of a page."""
    if isinstance(value, str):
        return [value]
    if is_dataclass(value):
        return [t for f in fields(value) for t in texts(getattr(value, f.name))]
    return [t for one in value for t in texts(one)] if isinstance(value, tuple) else []


def shown(page):
    text = StringIO()
    print_sheet(page, console_for(text, 80))
    return text.getvalue()


def unsealed(record):
    return StoredRecord(document={}, record=record)


def diagnosed(record, code, segment):
    finding = Finding(
        code=code, segment=segment, confidence=0.9, next_step="restart-router", evidence=("m04",)
    )
    diagnosis = replace(record.diagnosis, segment=segment, findings=(finding,))
    return replace(record, diagnosis=diagnosis, practice=TRUTH)


def undiagnosed(record):
    return replace(record, diagnosis=Diagnosis(segment=Segment.NONE), practice=None)


def sentence_of(record):
    """Return what the first finding of a record says."""
    finding = record.diagnosis.findings[0]
    return finding_sentence(finding.code, finding.values)


def taught(**more):
    usual = {
        "fault": "slow-line",
        "severity": "medium",
        "sentence": "The access line carries only a part of the tier, both ways.",
        "segment": "access",
        "findings": ("slow-line",),
        "part_said": "access",
        "fault_said": "slow-line",
        "part_right": True,
        "fault_right": True,
        "command": "doorstep practice slow-line:medium --seed 9",
    }
    return Taught(**(usual | more))


def told(record, **more):
    return {one.title: one.items for one in lesson_of(record, taught(**more))}


@pytest.mark.parametrize("record", RECORDS)
def test_the_page_is_the_same_whatever_was_found_and_played(record):
    one = record()
    plain = training_sheet(unsealed(undiagnosed(one)))
    for code, segment in zip(sorted(areas.FINDING), cycle(FAULTY), strict=False):
        assert training_sheet(unsealed(diagnosed(one, code, segment))) == plain, code


@pytest.mark.parametrize("record", RECORDS)
def test_no_sentence_of_a_finding_or_a_step_stands_on_it(record):
    page = " ".join(texts(training_sheet(unsealed(record()))))
    findings = [finding_sentence(f.code, f.values) for f in record().diagnosis.findings]
    steps = [t for f in record().diagnosis.findings for t in step_texts(f.next_step) if t]
    for secret in (*findings, *steps, *words.GROUND.values()):
        if secret not in (words.GROUND["absent"], words.GROUND["unreached"]):
            assert secret not in page


def test_the_figures_are_those_of_the_page():
    ours, usual = training_sheet(unsealed(below())), build_sheet(unsealed(below()))
    assert ours.headline == usual.headline
    assert ours.rates == usual.rates
    assert ours.promises == usual.promises
    assert ours.detail.tables == usual.detail.tables
    assert ours.courses == usual.courses
    assert [c.evidence for c in ours.strip] == [c.evidence for c in usual.strip]


def test_series_that_only_a_finding_would_show_are_all_there():
    usual, ours = build_sheet(unsealed(below())), training_sheet(unsealed(below()))
    labels = {row.label for row in ours.spreads.rows}
    assert {row.label for row in usual.spreads.rows} <= labels


def test_a_page_that_is_already_made_loses_what_the_diagnosis_put_there():
    page = without_diagnosis(build_sheet(unsealed(replace(below(), practice=TRUTH))))
    assert words.LABEL["findings"] not in {one.title for one in page.listings}
    for facts in (page.facts, page.detail.facts):
        assert words.LABEL["practice"] not in {one.title for one in facts}
    assert not page.detail.listings
    assert {cell.ground for cell in page.strip} <= {
        Ground.CLEAR,
        Ground.UNREACHED,
        Ground.UNKNOWN,
        Ground.ABSENT,
    }
    assert step_texts("check-provisioning")[0] not in texts(page)


def test_it_always_says_that_a_practice_network_played_and_no_hash_that_will_change():
    for record in RECORDS:
        sealed = seal(record())
        page = training_sheet(sealed)
        assert page.banners.count(words.BANNER_PRACTICE) == 1
        assert sealed.sha256 not in texts(page)


@pytest.mark.parametrize("record", RECORDS)
def test_it_fits_eighty_columns(record):
    assert max(map(len, shown(training_sheet(unsealed(record()))).splitlines())) <= 80


@pytest.mark.parametrize(
    ("more", "line"),
    [
        ({}, "Right: access line."),
        ({"part_said": "home", "part_right": False}, "Not right: home. It was: access line."),
        ({"part_said": None, "part_right": None}, "Not answered. It was: access line."),
        ({}, "Right: slow-line."),
        ({"fault_said": "none", "fault_right": False}, "Not right: nothing wrong. It was: slow-"),
        ({"fault_said": None, "fault_right": None}, "Not answered. It was: slow-line."),
    ],
)
def test_each_answer_is_told_right_or_not_with_the_truth(more, line):
    assert any(item.startswith(line) for item in told(below(), **more)["Your answers"])


def test_what_was_played_is_told_with_how_to_play_it_again():
    items = told(below())["What was played"]
    assert "slow-line, medium: The access line carries only a part" in items[0]
    assert "doorstep practice slow-line:medium --seed 9" in items[1]


def test_what_doorstep_said_stands_with_its_confidence_and_place():
    items = told(below())["What Doorstep said"]
    assert items[0].startswith("The verdict: Below what was sold.")
    assert items[1] == f"Likely (confidence 0.92), access line: {sentence_of(below())}"


@pytest.mark.parametrize(
    ("record", "more", "said"),
    [
        (below, {"findings": ("loss-past-modem",)}, "It did not name what was played."),
        (below, {"segment": "operator"}, "but places it elsewhere than it was."),
        (below, {"fault": None, "findings": ()}, "a false alarm."),
        (below, {"fault": "limited-hop", "findings": ()}, "it harms nothing on this line."),
    ],
)
def test_where_doorstep_did_not_say_what_was_played_the_lesson_tells_why(record, more, said):
    assert any(said in item for item in told(record(), **more)["What Doorstep said"])
    assert all(said not in item for item in told(record())["What Doorstep said"])


def test_the_evidence_gives_the_figures_of_each_measurement_that_the_finding_names():
    """m08 and m09 of the record are the upload and the download that were judged."""
    record = below()
    items = told(record)[f"The evidence: {sentence_of(record)}"]
    cited = [
        one
        for one in record.measured
        if one.measurement.id in record.diagnosis.findings[0].evidence
    ]
    assert len(items) == len(cited) == 2
    for one, item in zip(cited, items, strict=True):
        statistics = one.statistics
        if one.measurement.kind.value == "throughput":
            assert item.startswith("Rate in detail, download: 4")
            assert f"{statistics.flows} flows" in item


def test_the_next_step_stands_with_its_caution_once():
    step, caution = step_texts("check-provisioning")
    assert told(below())["Next step"] == tuple(text for text in (step, caution) if text)


def test_where_nothing_was_played_what_was_kept_speaks_for_the_line():
    items = told(healthy(), fault=None, findings=(), segment="none")
    (kept,) = items["What speaks for a sound line"]
    assert kept.startswith("kept: ")
    assert "Download" in kept
    assert "Next step" not in items


@pytest.mark.parametrize("record", RECORDS)
def test_every_kind_of_measurement_can_be_evidence(record):
    every = tuple(one.measurement.id for one in record().measured)
    for name in every:
        finding = Finding(
            code="slow-line",
            segment=Segment.ACCESS,
            confidence=0.9,
            next_step="read-levels",
            evidence=(name,),
        )
        (sentence,) = evidence_of(record(), finding)
        assert sentence.endswith(".")
        assert any(c.isdigit() for c in sentence)


def evidence_with(statistics, kind):
    """Return the evidence of a finding that rests on one measurement with these statistics."""
    record = healthy()
    place = next(i for i, m in enumerate(record.measured) if m.measurement.kind is kind)
    one = replace(record.measured[place], statistics=statistics)
    measured = (*record.measured[:place], one, *record.measured[place + 1 :])
    finding = Finding(
        code="x",
        segment=Segment.HOME,
        confidence=0.5,
        next_step="y",
        evidence=(one.measurement.id,),
    )
    (sentence,) = evidence_of(replace(record, measured=measured), finding)
    return sentence


def test_the_evidence_of_a_path_says_what_size_passes_and_who_answered():
    walked = next(m.statistics for m in healthy().measured if m.measurement.kind is Kind.PATH)
    size = MtuStatistics(path_mtu_bytes=1400, up_limit="silent", vanish_after="192.0.2.1")
    told = evidence_with(replace(walked, mtu=size), Kind.PATH)
    assert "MTU 1400 bytes; larger ones vanish after 192.0.2.1" in told
    assert "hop 1 " in told


def test_the_evidence_of_ports_names_those_that_are_not_as_they_should_be():
    ports = (
        PortStatistics(name="mail", transport=Transport.TCP, port=587, outcome="filtered"),
        PortStatistics(name="web", transport=Transport.TCP, port=443, outcome="open"),
    )
    told = evidence_with(ReachStatistics(ports=ports, tried=2, as_wanted=1), Kind.PATH)
    assert "1 of 2 listed ports as expected; mail (TCP 587): silent." in told
    assert "web" not in told


def test_units_stand_at_the_figure_not_in_its_name():
    told = evidence_with(LinkStatistics(up=True, medium="wired", speed_bps=100_000_000), Kind.LINK)
    assert "speed: 100" in told
    assert "bps" not in told


def test_a_finding_without_measurements_says_that_it_rests_on_none():
    finding = Finding(code="x", segment=Segment.HOME, confidence=0.5, next_step="y")
    assert evidence_of(healthy(), finding) == (
        "No single measurement: it rests on what was stated, or on what was not seen.",
    )


def test_lesson_and_questions_fit_eighty_columns():
    text = StringIO()
    print_listings(lesson_of(below(), taught()), console_for(text, 80))
    print_choices("Which?", ["word " * 30] * 12, text)
    assert "12" in text.getvalue()
    assert max(map(len, text.getvalue().splitlines())) <= 80
