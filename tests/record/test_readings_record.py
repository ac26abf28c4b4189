"""Readings by hand in the record: exact, absent from older ones, no part of identity."""

from dataclasses import replace

import pytest
from records import healthy

from agent.errors import RecordError
from agent.record.model import PracticeTruth, Reading
from agent.record.seal import redact, seal, sealed, verify
from agent.record.store import add_practice, read_record, write_record
from agent.record.typed import document_of

READINGS = (
    Reading(where="tap", what="downstream-level", value=14.3, unit="dBmV"),
    Reading(
        where="modem",
        what="uncorrectable-ratio",
        value=3e-7,
        unit="ratio",
        usual_high=1e-6,
        source="common practice, no source",
    ),
    Reading(where="modem", what="timeouts", value=0.0, unit="count", usual_low=0, usual_high=0),
    Reading(where="roof", what="of-a-later-version", value=-1.5, unit="dBx"),
)


def with_readings(*readings):
    plain = healthy()
    return replace(plain, visit=replace(plain.visit, readings=readings))


def test_readings_are_read_again_exactly(tmp_path):
    record = with_readings(*READINGS)
    back = read_record(write_record(seal(record), tmp_path))
    assert back.record == record
    assert verify(back.document).whole


def test_records_from_before_have_none(tmp_path):
    document = document_of(healthy())
    del document["visit"]["readings"]
    path = write_record(sealed(document, salt=b"s" * 16, previous_sha256=None), tmp_path)
    assert read_record(path).record == healthy()


def test_members_of_a_reading_that_this_version_does_not_know_are_kept(tmp_path):
    document = document_of(with_readings(READINGS[0]))
    document["visit"]["readings"][0]["meter"] = "checked in May"
    path = write_record(sealed(document, salt=b"s" * 16, previous_sha256=None), tmp_path)
    after = add_practice(path, PracticeTruth(fault=None, severity=None, truth={}))
    assert after.document["visit"]["readings"][0]["meter"] == "checked in May"
    assert after.record.visit.readings == READINGS[:1]


def test_a_redacted_record_keeps_them():
    bare = redact(seal(with_readings(*READINGS)))
    assert bare.record.visit.readings == READINGS
    assert verify(bare.document).whole


@pytest.mark.parametrize("spoiled", [7, [{"where": "tap"}], [{**document_of(healthy())}], "tap"])
def test_readings_of_another_shape_are_one_sentence(tmp_path, spoiled):
    document = document_of(healthy())
    document["visit"]["readings"] = spoiled
    with pytest.raises(RecordError, match=r"the member visit\.readings"):
        read_record(write_record(sealed(document, salt=b"s" * 16, previous_sha256=None), tmp_path))


@pytest.mark.parametrize(
    ("low", "high", "value", "within"),
    [
        (None, None, 1.0, None),
        (0.0, None, 0.0, True),
        (0.0, None, -0.1, False),
        (None, 0.0, 0.0, True),
        (None, 0.0, 0.1, False),
        (-8.0, 8.0, 8.0, True),
        (-8.0, 8.0, -8.1, False),
    ],
)
def test_ends_belong_to_the_usual_range(low, high, value, within):
    reading = replace(READINGS[0], value=value, usual_low=low, usual_high=high)
    assert reading.within_usual is within
