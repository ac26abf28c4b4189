"""Make every face of the sample in `reports/sample/` anew from its record.

    python tests/sample.py           the faces, by the functions that the commands call
    python tests/sample.py --visit   plays the visit again first, in the practice network

The visit needs network namespaces, as root or as a plain user; on a busy computer the record says
that the processor was busy. Of this computer the record keeps the name of its system alone.
"""

import argparse
import sys
import tempfile
from dataclasses import dataclass, replace
from importlib.metadata import version
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from agent.cli import faces  # noqa: E402 - this checkout, installed or not
from agent.cli.dressing import look_of  # noqa: E402
from agent.cli.practising import PracticeAsked, run  # noqa: E402
from agent.record.seal import opened_of, salt_of, sealed  # noqa: E402
from agent.record.store import RECORD_NAME, read_record, text_of, write_file  # noqa: E402
from agent.settings.loader import load  # noqa: E402

FOLDER = ROOT / "reports" / "sample"
IDENTITY = "identity.toml"
MADE_BY = "made_by.toml"
PRINTERS = ("typst", "font-source-sans-pro")
"""The packages whose versions decide the bytes of a PDF beside our own code."""
VISIT = PracticeAsked(
    faults=("slow-line",),
    seed=7,
    stated={
        "work-order": "4711",
        "technician": "Ines Marlow",
        "premises": "7 Slipway Lane, Tern Bay",
        "spot": "hall, beside the modem",
    },
    readings=("modem downstream-level 3.1 dBmV", "modem downstream-snr 37.5 dB"),
    quiet=True,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """One face of the sample: its kind, and the options of `doorstep sheet` that ask for it."""

    kind: str
    paper: str = "a4"
    language: str = "en"
    detail: bool = False
    redact: bool = False


FACES = {
    "sheet.html": Face(kind="html"),
    "sheet.txt": Face(kind="terminal"),
    "sheet.pdf": Face(kind="pdf"),
    "sheet-letter.pdf": Face(kind="pdf", paper="letter"),
    "sheet-de.pdf": Face(kind="pdf", language="de"),
    "sheet-detail.pdf": Face(kind="pdf", detail=True),
    "sheet-redacted.pdf": Face(kind="pdf", redact=True),
}


def made(face, folder=FOLDER):
    """Return the bytes of a face of the sample, whatever the settings of this computer are."""
    loaded = load(folder / IDENTITY, {}, {"identity.language": face.language})
    look = look_of(loaded.settings.identity, paper=face.paper)
    shown, _ = faces.shown(faces.read(folder), hide=face.redact, settings_path=None, loaded=loaded)
    page = faces.sheet_of(shown, dress=look.dress)
    return faces.content(page, face.kind, look.paper, detail=face.detail)


def printers():
    """Return the installed versions of what prints a PDF, by the names of their packages."""
    return {name: version(name) for name in PRINTERS}


def make_faces(folder=FOLDER):
    """Write every face of the sample, and what printed them."""
    for name, face in FACES.items():
        write_file(folder / name, made(face, folder))
    lines = [f'{name} = "{found}"\n' for name, found in printers().items()]
    head = "# What printed the PDFs beside this file; another version may write other bytes.\n\n"
    write_file(folder / MADE_BY, (head + "".join(lines)).encode())


def play(folder=FOLDER):
    """Play the visit and keep its record, without the release of this computer's system."""
    with tempfile.TemporaryDirectory() as out:
        asked = replace(VISIT, settings=folder / IDENTITY, out=Path(out))
        run(asked)
        (record,) = Path(out).glob(f"*/{RECORD_NAME}")
        write_file(folder / RECORD_NAME, text_of(plain(read_record(record)).document).encode())


def plain(stored):
    """Return a record sealed anew, its system named without the release that this computer has."""
    opened = opened_of(stored.document)
    agent = {**opened["agent"], "platform": opened["agent"]["platform"].split()[0]}
    salt = salt_of(stored.document, RECORD_NAME)
    return sealed({**opened, "agent": agent}, salt=salt, previous_sha256=None)


def main():
    """Make what was asked for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--visit", action="store_true", help="play the visit again first")
    if parser.parse_args().visit:
        play()
    make_faces()


if __name__ == "__main__":
    main()
