"""What a printed page must be inside: archivable, read aloud in its order, copied out unspoilt.

The points are those of ISO 19005-2 (PDF/A-2), ISO 14289-1 (PDF/UA-1) and ISO 32000-1. The numbers
of clauses are from memory, as are the lists of rules that validators publish for them.
"""

import os
import re
import subprocess
import sys
from base64 import b64encode
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

import pikepdf
import pytest
from generated import generated
from logo_files import TERN_PNG
from pdf_reading import elements, marked, opened, without_space
from records import below, healthy, no_lease, unproven
from test_browser import needed
from test_faces import tool
from test_one_page import MOST_PDF, printed

from agent.record.seal import seal
from agent.record.store import write_record
from agent.sheet.comparison import build_comparison
from agent.sheet.comparison.pdf import comparison_pdf
from agent.sheet.unread import unread_sheet
from agent.sheet.view import Dress, build_sheet

ROOT = Path(__file__).parents[2]
LOGO = "data:image/png;base64," + b64encode(TERN_PNG).decode()
MADE = {
    f"{name} {language} {paper}{' detail' * detail}": (make, language, paper, detail)
    for name, make in (("below", below), ("unproven", unproven))
    for language, paper, detail in (
        ("en", "a4", False),
        ("de", "letter", False),
        ("en", "letter", True),
        ("de", "a4", True),
    )
}
COMPARED = {"compared en": ("en", "a4"), "compared de": ("de", "letter")}
ALL = (*MADE, *COMPARED)
SIZES_PT = {"a4": (595.276, 841.890), "letter": (612, 792)}
"""ISO 216 A4, 210 mm by 297 mm, and ANSI/ASME Y14.1 A, 8.5 in by 11 in; 72 points to the inch."""

PDFA = "{http://www.aiim.org/pdfa/ns/id/}"
PDFUA = "{http://www.aiim.org/pdfua/ns/id/}"
DC = "{http://purl.org/dc/elements/1.1/}"
# Unicode ch. 23: soft hyphen, joiners, marks of direction, variation selectors, and the
# replacement character, which stands for a letter that was lost.
UNSEEN = re.compile("[\u00ad\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufe00-\ufe0f\ufeff\ufffd]")
# ISO 32000-1 14.8.4, the standard types of structure elements.
STANDARD_TYPES = frozenset(
    re.findall(
        r"\w+",
        "Document Part Art Sect Div BlockQuote Caption TOC TOCI Index NonStruct Private P H H1 H2 "
        "H3 H4 H5 H6 L LI Lbl LBody Table TR TH TD THead TBody TFoot Span Quote Note Reference "
        "BibEntry "
        "Code Link Annot Ruby RB RT RP Warichu WT WP Figure Formula Form",
    )
)
# ISO 19005-2 6.3, 6.4, 6.5, 6.8, 6.10 and 6.11, and what 6.1 and 6.2 take out of streams.
FORBIDDEN_KEYS = frozenset(
    re.findall(
        r"/\w+",
        "/AA /JS /JavaScript /EmbeddedFiles /AF /AcroForm /XFA /URI /Launch /OpenAction /Annots "
        "/Requirements /PresSteps /AlternatePresentations /Encrypt /OPI /Ref /TR /HTP /FFilter "
        "/FDecodeParms",
    )
)


@cache
def sheet_of(name):
    make, language, _, _ = MADE[name]
    dress = Dress(language=language, logo=LOGO if language == "de" else "", logo_ratio=2.0)
    return build_sheet(seal(make()), dress=dress)


@cache
def compared(name):
    stored = [seal(below()), seal(healthy()), seal(no_lease())]
    return build_comparison(stored, dress=Dress(language=COMPARED[name][0]))


@cache
def pdf_of(name):
    if name in COMPARED:
        return comparison_pdf(compared(name), COMPARED[name][1])
    _, _, paper, detail = MADE[name]
    return printed(sheet_of(name), paper, detail=detail)


@pytest.fixture(params=ALL)
def name(request):
    return request.param


@cache
def read(name):
    """Return a page's PDF with the elements of its tree."""
    pdf = opened(pdf_of(name))
    return pdf, elements(pdf)


@pytest.fixture
def pdf(name):
    return read(name)[0]


@pytest.fixture
def told(name):
    return read(name)[1]


def language_of(name):
    return COMPARED[name][0] if name in COMPARED else MADE[name][1]


def sheet_or_comparison(name):
    return compared(name) if name in COMPARED else sheet_of(name)


def dictionaries(pdf):
    return [o for o in pdf.objects if isinstance(o, (pikepdf.Dictionary, pikepdf.Stream))]


def everything(pdf):
    """Yield every dictionary of a document, those inside of others too, each once."""
    todo, seen = [pdf.trailer, *pdf.objects], set()
    while todo:
        item = todo.pop()
        if not isinstance(item, pikepdf.Object) or (item.is_indirect and item.objgen in seen):
            continue
        if item.is_indirect:
            seen.add(item.objgen)
        if isinstance(item, pikepdf.Array):
            todo.extend(item)
        elif isinstance(item, (pikepdf.Dictionary, pikepdf.Stream)):
            yield item
            todo.extend(value for _, value in item.items())


def test_the_file_is_sound_and_small(name, tmp_path):
    path = tmp_path / "page.pdf"
    path.write_bytes(pdf_of(name))
    assert "No syntax or stream encoding errors" in tool("qpdf", "--check", str(path), data=b"")
    assert len(pdf_of(name)) <= MOST_PDF


def test_pages_have_the_paper_s_size(name, pdf):
    paper = COMPARED[name][1] if name in COMPARED else MADE[name][2]
    for page in pdf.pages:
        assert [float(n) for n in page.mediabox[2:]] == pytest.approx(SIZES_PT[paper], abs=0.1)


def test_the_head_of_the_file(name, pdf):
    """ISO 19005-2 6.1.2: a version of 1.0 to 1.7, then a remark of four bytes above 127; 6.1.3."""
    first, remark = pdf_of(name).split(b"\n")[:2]
    assert re.fullmatch(rb"%PDF-1\.[0-7]", first)
    assert re.match(rb"%[\x80-\xff]{4}", remark)
    assert len(pdf.trailer.ID) == 2
    assert not pdf.is_encrypted


def test_the_metadata_claims_level_a_of_part_2_and_universal_access(name, pdf):
    """ISO 19005-2 6.6.2 and 6.6.4, ISO 14289-1 5 and 7.1: plain XMP, with a title."""
    raw = pdf.Root.Metadata
    assert "/Filter" not in raw
    xmp = ET.fromstring(raw.read_bytes())
    assert xmp.findtext(f".//{PDFA}part") == "2"
    assert xmp.findtext(f".//{PDFA}conformance") == "A"
    assert xmp.findtext(f".//{PDFUA}part") == "1"
    title = "".join(xmp.find(f".//{DC}title").itertext()).strip()
    assert title.startswith(sheet_or_comparison(name).title)
    assert pdf.Root.ViewerPreferences.DisplayDocTitle


def test_colours_are_told_by_a_profile(pdf):
    """ISO 19005-2 6.2.3 and 6.2.4: one output intent with an ICC profile; ICC.1 7.2: `acsp`."""
    (intent,) = pdf.Root.OutputIntents
    assert intent.S == "/GTS_PDFA1"
    profile = intent.DestOutputProfile.read_bytes()
    assert profile[36:40] == b"acsp"
    assert profile[16:20] == b"RGB "


def test_nothing_runs_reaches_out_or_hides(pdf):
    """ISO 19005-2 6.3 to 6.5, 6.8 and 6.10: no action, form, script, file or other presentation."""
    names = pdf.Root.get("/Names", {})
    assert not {"/JavaScript", "/EmbeddedFiles"} & set(names.keys())
    for one in everything(pdf):
        assert not FORBIDDEN_KEYS & set(one.keys())
        assert one.get("/Type") not in {"/Action", "/Filespec", "/Annot", "/OCG"}
        assert one.get("/Subtype") not in {"/PS", "/3D", "/Movie", "/Sound", "/RichMedia"}
        assert not one.get("/Interpolate", False)


def test_streams_are_whole_and_not_compressed_by_lzw(pdf):
    """ISO 19005-2 6.1.7: no stream in another file, no LZW."""
    for one in dictionaries(pdf):
        if isinstance(one, pikepdf.Stream):
            assert "/F" not in one
            assert "LZW" not in str(one.get("/Filter", ""))
            assert one.read_bytes() is not None


def test_every_letter_is_in_the_file_and_has_a_meaning(pdf):
    """ISO 19005-2 6.2.11.4 and 6.2.11.7, ISO 14289-1 7.21: embedded, with ToUnicode."""
    fonts = [o for o in dictionaries(pdf) if o.get("/Type") == "/Font"]
    composed = [font for font in fonts if font.Subtype == "/Type0"]
    assert composed
    for font in composed:
        assert font.ToUnicode.read_bytes()
        descriptor = font.DescendantFonts[0].FontDescriptor
        assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(descriptor.keys())
    assert {str(font.Subtype) for font in fonts} <= {"/Type0", "/CIDFontType0", "/CIDFontType2"}


def test_it_is_tagged_and_says_its_language(name, pdf, told):
    """ISO 14289-1 7.1 and 7.2, ISO 19005-2 6.7."""
    assert pdf.Root.MarkInfo.Marked
    assert not pdf.Root.MarkInfo.get("/Suspects", False)
    assert str(pdf.Root.Lang) == sheet_or_comparison(name).language == language_of(name)
    assert all(page.get("/Tabs", "/S") == "/S" for page in pdf.pages)
    roles = pdf.Root.StructTreeRoot.get("/RoleMap", {})
    for one in told:
        assert one.kind in STANDARD_TYPES or f"/{one.kind}" in roles


def test_all_that_is_drawn_is_text_of_the_tree_or_an_ornament(pdf, told):
    """ISO 14289-1 7.1: content is tagged or an artifact, and nothing stands in between."""
    for page in pdf.pages:
        assert marked(page).outside == []
    drawn = "".join(text for page in pdf.pages for text in marked(page).texts.values())
    assert without_space(told[0].text) == without_space(drawn)


def test_figures_have_a_text_instead(name, told):
    """ISO 14289-1 7.3. The square code says what it holds, a logo whose it is."""
    figures = [str(one.item.Alt) for one in told if one.kind == "Figure"]
    if name in COMPARED:
        assert figures == []
        return
    sheet = sheet_of(name)
    expected = [sheet.brand.company] if sheet.brand.logo else []
    assert figures == [*expected, sheet.proof.code_text]


def test_a_logo_of_nobody_is_an_ornament():
    """ISO 14289-1 7.3: a picture without a text instead is no figure, and costs no level."""
    nobody = replace(below(), private=replace(below().private, company=None))
    dress = Dress(logo=LOGO, logo_ratio=2.0)
    newer = {"record_id": "W6XQ-VCJY-YDA7E", "record_version": 99}
    for sheet in (build_sheet(seal(nobody), dress=dress), unread_sheet(newer, dress)):
        page = printed(sheet, "a4", detail=True)
        assert b"<pdfuaid:part>1</pdfuaid:part>" in page
        with opened(page) as pdf:
            figures = [str(one.item.Alt) for one in elements(pdf) if one.kind == "Figure"]
        assert figures == [sheet.proof.code_text]
    stored = [seal(nobody), seal(replace(nobody, started="2026-03-02T11:14:07Z"))]
    pdf = comparison_pdf(build_comparison(stored, dress=dress))
    assert b"<pdfuaid:part>1</pdfuaid:part>" in pdf


def test_headings_begin_at_one_and_leave_no_level_out(told):
    """ISO 14289-1 7.4.2."""
    levels = [int(one.kind[1]) for one in told if re.fullmatch(r"H\d", one.kind)]
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert all(one.text.strip() for one in told if re.fullmatch(r"H\d", one.kind))


def test_tables_have_heads_and_every_row_its_cells(name, told):
    """ISO 14289-1 7.5 and ISO 32000-1 14.8.4.3.4: rows are of one length, heads name a column."""
    tables = [one for one in told if one.kind == "Table"]
    assert bool(tables) == (name not in COMPARED)
    for table in tables:
        rows = rows_of(table.item)
        assert [str(cell.S) for cell in rows[0]] == ["/TH"] * len(rows[0])
        assert {len(row) for row in rows} == {len(rows[0])}
        for cell in rows[0]:
            assert {str(a.get("/Scope")) for a in attributes(cell)} & {"/Column", "/Both"}


def rows_of(table):
    """Return the cells of a table, row by row."""
    made = []
    for kid in table.K:
        if kid.S in {"/THead", "/TBody", "/TFoot"}:
            made.extend(rows_of(kid))
        elif kid.S == "/TR":
            made.append(list(kid.K))
    return made


def attributes(cell):
    found = cell.get("/A", [])
    return list(found) if isinstance(found, pikepdf.Array) else [found]


def in_order(text, parts):
    """Return the first part that does not stand behind those before it, None if all do."""
    whole, at = without_space(text), 0
    for part in parts:
        found = whole.find(without_space(part), at)
        if found < 0:
            return part
        at = found + len(without_space(part))
    return None


def order_of(sheet):
    """Yield the texts of a page as they should be heard: what decides first, the proof last."""
    yield from (sheet.brand.company, sheet.title, sheet.dated)
    yield from (sheet.headline.verdict, sheet.headline.reason)
    yield from (text for pair in sheet.headline.beside for text in (pair.label, pair.value))
    yield sheet.strip_title
    yield from (text for cell in sheet.strip for text in (cell.name, cell.state, cell.evidence))
    yield sheet.rates_title
    yield from (text for bar in sheet.rates for text in (bar.label, bar.value, bar.interval))
    yield from (sheet.next_step.title, sheet.next_step.text, sheet.next_step.plain.value)
    yield sheet.spreads.title
    yield from (text for row in sheet.spreads.rows for text in (row.label, *row.cells))
    yield sheet.courses.title
    yield from (text for row in sheet.courses.rows for text in (row.label, row.mean))
    yield sheet.promises_title
    yield from (text for bar in sheet.promises for text in (bar.label, bar.value, bar.outcome))
    yield from (block.title for block in (*sheet.listings, *sheet.facts))
    yield from (sheet.cautions.title, *sheet.cautions.items)
    yield from (sheet.sign_off.title, *sheet.sign_off.lines)
    yield from (sheet.labels.record, sheet.proof.record_id, sheet.proof.hash_short)
    yield from (sheet.ticket.label, sheet.ticket.value)


@pytest.mark.parametrize("name", MADE)
def test_a_page_is_heard_from_the_verdict_to_the_record(name, told):
    assert in_order(told[0].text, order_of(sheet_of(name))) is None


@pytest.mark.parametrize("name", MADE)
def test_a_program_that_knows_no_tags_reads_the_same_order(name):
    """A second witness: poppler's pdftotext, in the order in which the page is drawn."""
    needed("pdftotext", there=True)
    text = tool("pdftotext", "-raw", "-", "-", data=pdf_of(name))
    assert in_order(text, order_of(sheet_of(name))) is None


@pytest.mark.parametrize("name", COMPARED)
def test_records_side_by_side_are_heard_row_by_row(name, told):
    shown = compared(name)
    parts = [shown.title, *(column.label for column in shown.columns)]
    parts += [text for column in shown.columns for text in (column.verdict, column.reason)]
    parts += [shown.rates_title]
    for row in shown.rates:
        parts += [row.label, *(bar.value for bar in row.cells)]
    parts += [shown.figures_title, shown.facts_title, *shown.cautions.items]
    assert in_order(told[0].text, parts) is None


@pytest.mark.parametrize("name", ALL)
def test_what_is_copied_out_has_no_unseen_letters(name):
    text = tool("pdftotext", "-raw", "-", "-", data=pdf_of(name))
    assert not UNSEEN.findall(text)
    if name in MADE:
        sheet, line = sheet_of(name), " ".join(text.split())
        for copied in (sheet.ticket.value, sheet.proof.record_id, sheet.proof.hash_short):
            assert copied in line


LONG = "no-space-at-all-" * 4


def test_a_long_word_that_is_broken_is_copied_whole():
    record = below()
    private = replace(record.private, premises=LONG, work_order=LONG)
    one = seal(replace(record, private=private, visit=replace(record.visit, spot=LONG)))
    side_by_side = comparison_pdf(build_comparison([one, seal(healthy())]))
    for pdf in (printed(build_sheet(one), "a4", detail=False), side_by_side):
        text = tool("pdftotext", "-raw", "-", "-", data=pdf)
        assert LONG[:40] in re.sub(r"\n", "", text)


FACES = {
    "Greek": "Οδός Ερμού 5",
    "Cyrillic": "улица Мира",
    "Polish": "Łódź Żółć",
    "Vietnamese": "Nguyễn Văn",
    "Hebrew": "שלום",
    "Arabic": "مرحبا",
}
NO_FACE = {"Chinese": "東京回線", "Korean": "서울회선", "Thai": "กรุงเทพ"}


FACELESS = re.compile("[\u3000-\u30ff\u4e00-\u9fff\U0001f000-\U0001faff]")
"""Of what `generated` writes: kana, Han and pictures, which no embedded face draws."""


def named(text):
    record = healthy()
    private = replace(record.private, company=text, premises=text)
    return printed(build_sheet(seal(replace(record, private=private))), "a4", detail=False)


@pytest.mark.parametrize("script", FACES)
def test_names_in_many_scripts_keep_the_level_and_can_be_copied(script):
    pdf = named(FACES[script])
    assert b"<pdfaid:conformance>A</pdfaid:conformance>" in pdf
    copied = re.sub("[\u202a-\u202e]", "", tool("pdftotext", "-raw", "-", "-", data=pdf))
    assert FACES[script] in copied


@pytest.mark.parametrize("script", NO_FACE)
def test_a_letter_without_a_face_costs_the_level_alone(script):
    """ISO 19005-2 6.2.11.8 forbids it: nothing is claimed then, and tags and language stay."""
    pdf = opened(named(NO_FACE[script]))
    assert len(pdf.pages) == 1
    metadata = pdf.Root.get("/Metadata")
    claimed = metadata.read_bytes() if metadata is not None else b""
    assert b"pdfaid" not in claimed
    assert b"pdfuaid" not in claimed
    assert pdf.Root.MarkInfo.Marked
    assert str(pdf.Root.Lang) == "en"
    told = without_space(elements(pdf)[0].text)
    assert NO_FACE[script] in told


ODD = {
    "winter": {"TZ": "Pacific/Kiritimati", "LANG": "de_DE.UTF-8", "PYTHONHASHSEED": "1"},
    "summer": {"TZ": "America/St_Johns", "LANG": "C", "PYTHONHASHSEED": "77", "LC_ALL": "C"},
}


def of_a_process(argv, folder, odd):
    out = folder / "page.pdf"
    environment = {"PATH": os.environ["PATH"], "PYTHONPATH": str(ROOT), "HOME": str(folder)}
    done = subprocess.run(
        [sys.executable, "-m", "agent", *argv, "--format", "pdf", "--out", str(out)],
        env=environment | odd,
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return out.read_bytes()


@pytest.mark.parametrize("command", ["sheet", "compare"])
def test_the_same_bytes_wherever_it_is_made(command, tmp_path):
    paths = [str(write_record(seal(make()), tmp_path)) for make in (below, healthy)]
    argv = [command, *paths[: 1 if command == "sheet" else 2]]
    made = {of_a_process(argv, tmp_path, odd) for odd in ODD.values()}
    assert len(made) == 1


def test_a_record_of_any_shape_keeps_its_order_and_its_tags():
    for seed in range(3, 500, 90):
        sheet = build_sheet(seal(generated(seed)))
        page = printed(sheet, "a4", detail=True)
        pdf = opened(page)
        told = elements(pdf)
        level = b"<pdfaid:conformance>A</pdfaid:conformance>" in page
        assert level == (FACELESS.search(told[0].text) is None), seed
        parts = [sheet.title, sheet.headline.verdict, sheet.strip_title, sheet.next_step.title]
        parts += [sheet.cautions.title, sheet.proof.record_id, sheet.detail.title]
        assert in_order(told[0].text, parts) is None, seed
        assert all(marked(page).outside == [] for page in pdf.pages), seed
