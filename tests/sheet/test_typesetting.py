"""The typesetter: a process beside the program, whose every end is a page or a sentence."""

import re
import subprocess
import sys
from pathlib import Path

import psutil
import pytest
from records import healthy

from agent.errors import PageError
from agent.record.seal import seal
from agent.sheet import pdf as pdf_face
from agent.sheet.pdf import pdf_of
from agent.sheet.view import build_sheet

MISSING = "raise ImportError('no such package')"


@pytest.fixture
def sheet():
    return build_sheet(seal(healthy()))


@pytest.fixture
def package(tmp_path, monkeypatch):
    """Put a package of our own in front of an installed one, for the typesetter alone."""

    def put(name, text):
        (tmp_path / f"{name}.py").write_text(text)
        monkeypatch.setenv("PYTHONPATH", str(tmp_path))

    return put


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (MISSING, "no such package"),
        ("import os\nos.kill(os.getpid(), 9)", "status -9"),
        ("import sys\nsys.exit(0)", "status 0"),
        ("class Compiler: pass\nTypstError = 1", r"Compiler\(\) takes no arguments"),
    ],
)
def test_a_typesetter_that_makes_no_page_is_a_sentence(package, sheet, text, told):
    package("typst", text)
    with pytest.raises(PageError, match="PDF page cannot be made") as caught:
        pdf_of(sheet)
    assert re.search(told, caught.value.sentence())
    assert "\n" not in caught.value.fields["problem"]


def test_a_typesetter_that_hangs_is_ended(package, sheet, monkeypatch):
    package("typst", "import signal\nsignal.pause()")
    monkeypatch.setattr(pdf_face, "WITHIN_S", 0.5)
    with pytest.raises(PageError, match="did not end within"):
        pdf_of(sheet)
    assert psutil.Process().children() == []


def test_an_interpreter_that_cannot_be_started_is_a_sentence(sheet, monkeypatch, tmp_path):
    monkeypatch.setattr(sys, "executable", str(tmp_path / "none"))
    with pytest.raises(PageError, match="PDF page cannot be made"):
        pdf_of(sheet)


def test_without_the_font_package_the_built_in_faces_serve(package, sheet):
    package("font_source_sans_pro", MISSING)
    page = pdf_of(sheet)
    assert page.startswith(b"%PDF-")
    assert page != pdf_of_installed(sheet)


def pdf_of_installed(sheet):
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("PYTHONPATH")
        return pdf_of(sheet)


LOOKS_AT_ITSELF = """
import os, sys
sys.path.insert(0, {folder!r})
from records import healthy
from agent.record.seal import seal
from agent.sheet.pdf import pdf_of
from agent.sheet.view import build_sheet
page = pdf_of(build_sheet(seal(healthy())))
try:
    os.waitpid(-1, os.WNOHANG)
    left = "a child"
except ChildProcessError:
    left = "no child"
print(page[:5].decode(), "typst" in sys.modules, left)
"""


def test_the_compiler_is_never_in_this_process_and_leaves_nothing_behind():
    folder = str(Path(__file__).parent)
    done = subprocess.run(
        [sys.executable, "-c", LOOKS_AT_ITSELF.format(folder=folder)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.stdout.split(maxsplit=1) == ["%PDF-", "False no child\n"], done.stderr
