"""Commands on stored records: page, comparison, verification."""

import json

import pytest
from records import healthy, lossy
from typer.testing import CliRunner

from agent.cli.app import app
from agent.record.store import write_record


@pytest.fixture
def stored(tmp_path):
    """The path of a stored healthy record."""
    return write_record(healthy(), tmp_path)


def run(*arguments):
    """Run the command line in this process."""
    return CliRunner().invoke(app, [str(a) for a in arguments])


def test_a_whole_record_verifies_by_file_and_by_folder(stored):
    assert run("verify", stored).exit_code == 0
    assert run("verify", stored.parent).exit_code == 0


def test_a_changed_record_does_not_verify(stored):
    text = stored.read_text()
    document = json.loads(text)
    document["visit"]["plugged_into"] = "modem"
    stored.write_text(json.dumps(document))
    done = run("verify", stored)
    assert done.exit_code == 3
    assert str(stored) in done.stdout
    assert "changed" in done.stdout


@pytest.mark.parametrize(
    ("content", "said"),
    [(b"", "not whole JSON"), (b'{"record_version": 1', "not whole JSON"), (b"[]", "not a record")],
)
def test_a_record_cut_short_is_one_sentence(tmp_path, content, said):
    path = tmp_path / "record.json"
    path.write_bytes(content)
    for command in ("verify", "sheet"):
        done = run(command, path)
        assert done.exit_code == 1
        assert said in done.stderr


def test_a_newer_record_is_not_guessed_at(stored):
    document = json.loads(stored.read_text())
    document["record_version"] = 99
    stored.write_text(json.dumps(document))
    done = run("sheet", stored)
    assert done.exit_code == 1
    assert "version 99" in done.stderr


@pytest.mark.parametrize(("face", "begins"), [("html", b"<!doctype html>"), ("pdf", b"%PDF-")])
def test_the_page_is_made_again_as_a_file(stored, tmp_path, face, begins):
    out = tmp_path / f"page.{face}"
    assert run("sheet", stored, "--format", face, "--out", out).exit_code == 0
    assert out.read_bytes().startswith(begins)


def test_the_page_on_the_terminal_names_the_record(stored):
    done = run("sheet", stored)
    assert done.exit_code == 0
    assert json.loads(stored.read_text())["record_id"] in done.stdout


def test_redaction_leaves_no_identity_on_the_page(stored):
    private = json.loads(stored.read_text())["private"]
    assert private["work_order"] in run("sheet", stored).stdout
    assert private["work_order"] not in run("sheet", stored, "--redact").stdout


def test_new_settings_judge_anew_and_the_page_says_so(stored, tmp_path):
    strict = tmp_path / "strict.toml"
    strict.write_text("[accept]\nfibre = { down = 1.0, up = 1.0 }\n")
    plain, anew = run("sheet", stored), run("sheet", stored, "--settings", strict)
    assert anew.exit_code == 0, anew.stderr
    assert plain.stdout != anew.stdout
    assert "judged anew" in anew.stdout.lower()
    assert "strict.toml" in anew.stdout
    assert "other rates" in anew.stdout


@pytest.mark.parametrize(
    ("limit", "code", "said"), [(0.001, 3, "verdict is another"), (1000, 0, "verdict is the same")]
)
def test_the_exit_code_is_that_of_the_new_verdict(stored, tmp_path, limit, code, said):
    strict = tmp_path / "promise.toml"
    strict.write_text(
        f"[limits.fibre]\nserver_delay_median = {{ value = {limit}, unit = 'ms', needed = true, "
        "source = 'a contract', reason = 'promised' }\n"
    )
    done = run("sheet", stored, "--settings", strict)
    assert done.exit_code == code, done.stdout
    assert said in " ".join(done.stdout.split())
    out = tmp_path / "page.html"
    again = run("sheet", stored, "--settings", strict, "--format", "html", "--out", out)
    assert again.exit_code == code
    assert out.is_file()


def test_two_records_stand_side_by_side(stored, tmp_path):
    other = write_record(lossy(), tmp_path)
    done = run("compare", stored, other)
    assert done.exit_code == 0
    for path in (stored, other):
        assert json.loads(path.read_text())["record_id"] in done.stdout


@pytest.mark.parametrize(("face", "begins"), [("html", "<!doctype html>"), ("pdf", "%PDF-")])
def test_records_side_by_side_are_written_into_a_file(stored, tmp_path, face, begins):
    other, out = write_record(lossy(), tmp_path), tmp_path / f"compare.{face}"
    done = run("compare", stored, other, "--format", face, "--paper", "letter", "--out", out)
    assert (done.exit_code, done.stdout) == (0, "")
    assert out.read_bytes().startswith(begins.encode())


def test_redacted_records_side_by_side_name_nobody_and_still_compare_the_way(stored, tmp_path):
    other = write_record(lossy(), tmp_path)
    named, hidden = run("compare", stored, other), run("compare", stored, other, "--redact")
    assert hidden.exit_code == 0
    for secret in ("Tern Bay Fibre", "Slipway", "192.0.2."):
        assert secret not in hidden.stdout
    assert "Tern Bay Fibre" in named.stdout
    for done in (named, hidden):
        assert "the same way" in " ".join(done.stdout.split())


def test_a_folder_that_cannot_be_written_is_one_sentence(stored, tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("")
    done = run("sheet", stored, "--format", "html", "--out", blocked / "page.html")
    assert done.exit_code == 1
    assert "Cannot write" in done.stderr
