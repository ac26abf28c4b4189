"""The sample under `reports/sample/`: whole, up to date, silent about the computer that made it.

A PDF is compared byte for byte where the installed typst and its font are those that printed it
(`made_by.toml`); another typst may write the same page in other bytes, so then text and pages are.
"""

import ipaddress
import re
import tomllib
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest
from sample import FACES, FOLDER, IDENTITY, MADE_BY, made, plain, printers
from test_faces import pages, tool
from typer.testing import CliRunner

from agent.cli.app import app
from agent.record.seal import verify
from agent.record.store import RECORD_NAME, read_document, read_record

README = FOLDER.parents[1] / "README.md"
FOLDERS = re.compile(
    rb"(?:/(?:home|root|tmp|usr|var|opt|work|srv|mnt|Users|private)/|[A-Z]:\\(?:Users|Windows)|file://)"
)
# RFC 5737 (documentation), RFC 2544 and RFC 6890 (benchmarking), RFC 6598 (shared), RFC 3849.
OURS = [
    ipaddress.ip_network(network)
    for network in (
        "192.0.2.0/24",
        "198.51.100.0/24",
        "203.0.113.0/24",
        "198.18.0.0/15",
        "100.64.0.0/10",
        "2001:db8::/32",
    )
]
# RFC 6761 §6.5 keeps .example for nobody; RFC 7042 §2.1.1 keeps 00-00-5E-00-53 for documentation,
# here with the bit of a locally given address.
NAMES = re.compile(r"[a-z0-9.-]+\.example|02:00:5e:00:53:[0-9a-f]{2}")


def stored(name):
    return (FOLDER / name).read_bytes()


def letters(pdf):
    """The letters of a page in the order they are drawn; where a line breaks may differ."""
    return re.sub(r"[\s\u00ad-]+", "", tool("pdftotext", "-raw", "-", "-", data=pdf))


def inside(content):
    """Everything that stands in a file, a PDF's streams unpacked."""
    if not content.startswith(b"%PDF-"):
        return content
    with pikepdf.open(BytesIO(content)) as pdf:
        streams = [one.read_bytes() for one in pdf.objects if isinstance(one, pikepdf.Stream)]
        return b"\n".join([content, *streams])


def same_printers():
    return tomllib.loads((FOLDER / MADE_BY).read_text()) == printers()


def test_the_record_is_whole_and_signed_by_nobody_else():
    found = verify(read_document(FOLDER))
    assert found.whole
    assert not found.redacted
    done = CliRunner().invoke(app, ["verify", str(FOLDER / RECORD_NAME)])
    assert done.exit_code == 0


@pytest.mark.parametrize("name", FACES)
def test_a_face_is_what_the_code_makes_of_the_record(name):
    """`python tests/sample.py` makes them all anew after a change of the page."""
    old, new = stored(name), made(FACES[name])
    if FACES[name].kind != "pdf" or same_printers():
        assert old == new
    else:
        assert letters(old) == letters(new)
        assert pages(old) == pages(new)


def test_other_letters_on_a_page_would_be_seen():
    assert letters(stored("sheet.pdf")) == letters(made(FACES["sheet-letter.pdf"]))
    assert letters(stored("sheet.pdf")) != letters(stored("sheet-de.pdf"))


@pytest.mark.parametrize("name", [name for name, face in FACES.items() if face.kind == "pdf"])
def test_a_printed_face_is_one_page_and_two_with_the_second_sheet(name):
    assert pages(stored(name)) == (2 if FACES[name].detail else 1)


def test_the_terminal_face_has_eighty_columns():
    assert max(map(len, stored("sheet.txt").decode().splitlines())) == 80


def test_the_redacted_face_names_nobody():
    private = read_record(FOLDER).record.private
    seen = letters(stored("sheet.pdf"))
    told = letters(stored("sheet-redacted.pdf"))
    for name in (private.technician, private.premises, private.company, private.contact):
        assert name.replace(" ", "") in seen
        assert name.replace(" ", "") not in told


@pytest.mark.parametrize("path", sorted(FOLDER.iterdir()), ids=lambda path: path.name)
def test_no_file_names_a_folder_of_a_computer(path):
    assert not FOLDERS.search(inside(path.read_bytes()))


def test_folders_would_be_seen_in_a_packed_stream():
    with pikepdf.open(FOLDER / "sheet.pdf") as pdf:
        pdf.docinfo["/Title"] = "/home/ines/record.json"
        pdf.Root.Extra = pdf.make_stream(b"made in /tmp/x")
        packed = BytesIO()
        pdf.save(packed, compress_streams=True, recompress_flate=True)
    assert FOLDERS.findall(inside(packed.getvalue()))


def test_the_record_tells_no_address_and_no_system_of_a_real_network():
    document = read_document(FOLDER)
    assert re.fullmatch(r"[A-Za-z]+", document["agent"]["platform"])
    assert document["agent"]["device_id"] is None
    assert document["agent"]["laptop_check"] is None
    for value in document["private"]["addresses"].values():
        assert NAMES.fullmatch(value) or any(ipaddress.ip_address(value) in net for net in OURS)


def test_a_record_loses_the_release_of_the_system_and_nothing_else(tmp_path):
    before = read_record(FOLDER)
    agent = {**before.document["agent"], "platform": "Linux 9.8.7-of-a-computer"}
    again = plain(type(before)(document={**before.document, "agent": agent}, record=before.record))
    assert again.document == before.document
    assert verify(again.document).whole


def test_the_readme_names_every_file_and_the_program():
    text = README.read_text()
    for name in (*FACES, RECORD_NAME, IDENTITY):
        assert f"reports/sample/{name}" in text or f"`{name}`" in text
    named = re.findall(r"python (tests/\w+\.py)", text)
    assert "tests/sample.py" in named
    assert all((README.parent / Path(name)).is_file() for name in named)


@pytest.mark.parametrize(
    "line", re.findall(r"^doorstep (sheet reports/sample/.*)$", README.read_text(), re.MULTILINE)
)
def test_the_commands_of_the_readme_make_a_page_of_the_sample(line, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    asked = line.split()
    asked[1] = str(README.parent / asked[1])
    if "--out" in asked:
        asked[asked.index("--out") + 1] = str(tmp_path / "page")
    assert CliRunner().invoke(app, asked).exit_code == 0
