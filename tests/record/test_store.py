import errno
import json
import os

import pytest
from hypothesis import given
from hypothesis import strategies as st
from records import CASES, healthy

from agent.errors import OutputError, RecordError
from agent.record import store
from agent.record.model import PracticeTruth
from agent.record.seal import redact, seal, sealed, verify
from agent.record.store import add_practice, read_document, read_record, write_record

TRUTH = PracticeTruth(
    fault="slow-line", severity="half", truth={"down_bps": 50_000_000, "edge": "198.51.100.1"}
)


@pytest.mark.parametrize("case", CASES)
def test_what_was_written_is_read_again_exactly(case, tmp_path):
    record = CASES[case]()
    stored = seal(record)
    back = read_record(write_record(stored, tmp_path))
    assert back.record == record
    assert back.document == stored.document
    assert verify(back.document).whole


def test_the_folder_is_named_by_time_and_number_and_holds_nothing_else(tmp_path):
    record = healthy()
    path = write_record(record, tmp_path)
    assert path.parent.name == f"20260302T091407Z-{record.record_id}"
    assert list(path.parent.iterdir()) == [path]
    assert read_record(path.parent).record == record


def test_members_unknown_to_this_version_are_kept_through_a_new_seal(tmp_path):
    document = {**_opened(healthy()), "from_the_future": {"x": [1, 2]}}
    document["measurements"][0]["observed"]["later"] = "kept"
    path = write_record(sealed(document, salt=b"s" * 16, previous_sha256=None), tmp_path)
    assert read_record(path).record == healthy()
    after = add_practice(path, TRUTH).document
    assert after["from_the_future"] == {"x": [1, 2]}
    assert after["measurements"][0]["observed"]["later"] == "kept"


def test_records_from_before_name_no_untried_system_and_later_ones_do(tmp_path):
    document = _opened(healthy())
    for part in (document["agent"], *document["conditions"]):
        del part["unverified_system"]
    path = write_record(sealed(document, salt=b"s" * 16, previous_sha256=None), tmp_path / "old")
    assert read_record(path).record == healthy()
    named = _opened(healthy())
    for part in (named["agent"], *named["conditions"]):
        part["unverified_system"] = "macOS"
    path = write_record(sealed(named, salt=b"s" * 16, previous_sha256=None), tmp_path / "new")
    back = read_record(path).record
    assert back.agent.unverified_system == "macOS"
    assert {one.unverified_system for one in back.conditions} == {"macOS"}


def _opened(record):
    from agent.record.typed import document_of

    return document_of(record)


def test_practice_truth_is_added_after_the_visit_and_sealed(tmp_path):
    path = write_record(healthy(), tmp_path)
    before = read_record(path)
    add_practice(path.parent, TRUTH)
    after = read_record(path)
    assert after.record.practice == TRUTH
    assert after.record.measured == before.record.measured
    assert verify(after.document).whole
    assert after.sha256 != before.sha256
    assert "198.51.100.1" not in json.dumps(redact(after).document)


def test_practice_truth_needs_the_private_part(tmp_path):
    path = write_record(redact(seal(healthy())), tmp_path)
    with pytest.raises(RecordError, match="private part is missing"):
        add_practice(path, TRUTH)


BAD = {
    "empty": (b"", "not whole JSON"),
    "cut short": (b'{"record_version": 1, "record_id": "x', "not whole JSON"),
    "garbage": (b"\x00\xff\xfe garbage", "not whole JSON"),
    "a list": (b"[1, 2]", "not a record"),
    "no version": (b'{"record_id": "x"}', "does not say its version"),
    "a truth for a version": (b'{"record_version": true}', "does not say its version"),
    "newer": (b'{"record_version": 2}', "newer doorstep"),
    "a doubled member": (b'{"record_version": 1, "record_version": 1}', "stands twice"),
    "not a number": (b'{"record_version": 1, "x": NaN}', "not a number of JSON"),
    "deep": (b'{"a":' * 200_000, "nested too deep"),
    "members missing": (b'{"record_version": 1}', "is wrong"),
    "wrong kind": (b'{"record_version": 1, "measurements": [{"kind": "tides"}]}', "is wrong"),
    "wrong measurements": (b'{"record_version": 1, "measurements": 7}', "is wrong"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_one_sentence(case, tmp_path):
    content, problem = BAD[case]
    path = tmp_path / "record.json"
    path.write_bytes(content)
    with pytest.raises(RecordError, match=problem):
        read_record(path)


def test_a_file_that_is_absent_or_too_large_is_one_sentence(tmp_path, monkeypatch):
    with pytest.raises(RecordError, match="No such file"):
        read_record(tmp_path / "none.json")
    monkeypatch.setattr(store, "LARGEST_BYTES", 2**20)
    large = tmp_path / "large.json"
    large.write_bytes(b" " * (2**20 + 1))
    with pytest.raises(RecordError, match="larger than 1 MiB"):
        read_document(large)


@given(data=st.data())
def test_a_damaged_record_is_refused_or_read_never_anything_else(data, tmp_path_factory):
    document = seal(CASES["no-lease"](), salt=b"s" * 16).document
    text = store.text_of(document).encode()
    at = data.draw(st.integers(0, len(text) - 1))
    junk = data.draw(st.binary(max_size=6))
    path = tmp_path_factory.mktemp("damaged") / "record.json"
    path.write_bytes(text[:at] + junk + text[at + data.draw(st.integers(0, 40)) :])
    try:
        stored = read_record(path)
    except RecordError:
        return
    assert stored.document == document or not verify(stored.document).whole


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EROFS, errno.EACCES])
def test_a_full_or_read_only_disk_is_an_output_error_and_leaves_nothing(
    code, tmp_path, monkeypatch
):
    def refuse(_):
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(store.os, "fsync", refuse)
    with pytest.raises(OutputError, match=os.strerror(code)):
        write_record(healthy(), tmp_path)
    assert [p for p in tmp_path.rglob("*") if p.is_file()] == []


def test_an_old_record_survives_a_write_that_fails(tmp_path, monkeypatch):
    path = write_record(healthy(), tmp_path)
    before = path.read_bytes()

    def refuse(_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(store.os, "fsync", refuse)
    with pytest.raises(OutputError):
        add_practice(path, TRUTH)
    assert path.read_bytes() == before


def test_the_file_is_readable_and_small(tmp_path):
    path = write_record(healthy(), tmp_path)
    assert path.stat().st_size < 150_000
    columns = [line for line in path.read_text().splitlines() if '"rtt_ms": [' in line]
    assert len(columns) >= 3
