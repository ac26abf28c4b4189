"""A record of a later version: one page that names it, on every face, and nothing misread."""

import io
import re

import pytest
from records import below
from typer.testing import CliRunner

from agent.cli.app import app
from agent.record.model import RECORD_VERSION
from agent.record.seal import seal
from agent.record.store import text_of
from agent.sheet.html import html_of
from agent.sheet.pdf import pdf_of
from agent.sheet.terminal import console_for, print_sheet
from agent.sheet.unread import unread_sheet
from agent.sheet.view import Dress

LATER = RECORD_VERSION + 1


def document(**members):
    return {**seal(below()).document, "record_version": LATER, **members}


def faces(sheet):
    out = io.StringIO()
    print_sheet(sheet, console_for(out, 80), detail=True)
    return {"terminal": out.getvalue(), "html": html_of(sheet, detail=True)}


@pytest.mark.parametrize("language", ["en", "de"])
def test_it_names_the_record_and_both_versions_and_no_figure(language):
    sheet = unread_sheet(document(), Dress(language=language))
    for text in faces(sheet).values():
        assert below().record_id in text
        assert re.search(rf"\b{LATER}\b", text)
        assert "47.9" not in text
        assert "Okafor" not in text
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf_of(sheet))) == 1


@pytest.mark.parametrize(
    "members",
    [
        {"record_id": None, "integrity": None},
        {"record_id": {"a": 1}, "integrity": ["x"], "record_version": "9" * 5000},
        {"record_id": "<script>\x1b[2J" + "W" * 500, "integrity": {"sha256": 7}},
    ],
)
def test_nothing_of_it_is_trusted(members):
    sheet = unread_sheet(document(**members))
    shown = faces(sheet)
    assert "<script>" not in shown["html"]
    assert all("\x1b" not in text for text in shown.values())
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf_of(sheet, "letter"))) == 1


def test_the_command_makes_the_page_says_why_and_does_not_end_well(tmp_path):
    record, page = tmp_path / "record.json", tmp_path / "page.html"
    record.write_text(text_of(document()))
    argv = ["sheet", str(record), "--format", "html", "--out", str(page), "--language", "de"]
    done = CliRunner().invoke(app, argv)
    assert done.exit_code == 1
    assert "newer doorstep" in done.stderr
    assert "Nicht gelesen" in page.read_text(encoding="utf-8")
