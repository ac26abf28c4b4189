"""One page, whatever the record: hundreds of them, in both languages, on both papers.

The typesetter runs in this process, once for all, so that a page costs a tenth of a second.
"""

import json
import re

import pytest
from generated import generated
from test_faces import page_of, terminal_of, tool

from agent.record.seal import redact, seal
from agent.sheet import typeset
from agent.sheet.catalogue import LANGUAGES
from agent.sheet.html import html_of
from agent.sheet.pdf import PAPERS, data_of, moment_of
from agent.sheet.view import Dress, build_sheet

COUNT, CHUNK = 504, 21
MOST_PDF, MOST_HTML = 200_000, 150_000
"""Bytes that a page may have, to be sent with a ticket."""


def sheet_of(seed):
    stored = seal(generated(seed))
    stored = redact(stored) if seed % 7 == 0 else stored
    return build_sheet(stored, dress=Dress(language=LANGUAGES[seed % len(LANGUAGES)]))


def printed(sheet, paper, *, detail):
    """Set a page as the program does, with the levels that it claims."""
    return typeset.typeset("page", inputs_of(sheet, paper, detail=detail), moment_of(sheet.started))


def plainly_printed(sheet, paper, *, detail):
    """Set a page without levels: a letter that no face has does not cost a second try."""
    inputs = inputs_of(sheet, paper, detail=detail) | {"unshaped": "yes"}
    return typeset._compiler("page").compile(format="pdf", sys_inputs=inputs)


def inputs_of(sheet, paper, *, detail):
    data = data_of(sheet, moment_of(sheet.started), paper, detail=detail)
    return {"sheet": json.dumps(data), "paper": PAPERS[paper]}


def pages(pdf):
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


@pytest.mark.parametrize("first", range(0, COUNT, CHUNK))
def test_every_record_is_one_page_or_two_with_the_second_sheet(first):
    for seed in range(first, first + CHUNK):
        sheet = sheet_of(seed)
        detail = seed % 12 == 0
        pdf = plainly_printed(sheet, ("a4", "letter")[seed % 2], detail=detail)
        assert pages(pdf) == 1 + detail, seed
        assert detail or len(pdf) <= MOST_PDF, seed
        html = html_of(sheet)
        assert len(html.encode()) <= MOST_HTML, seed


def figures_of(sheet):
    """Yield every figure that was judged, drawn or counted."""
    for bar in (*sheet.rates, *sheet.promises):
        yield from (bar.value, bar.interval, bar.limit)
    for spread in sheet.spreads.rows if sheet.spreads else ():
        yield from spread.cells
    for course in sheet.courses.rows if sheet.courses else ():
        yield course.mean


def squeezed(text):
    return re.sub(r"\s", "", text)


@pytest.mark.parametrize("first", range(0, COUNT, CHUNK))
def test_every_face_carries_the_same_figures(first):
    sheet = sheet_of(first + first // CHUNK % CHUNK)
    shown = {
        "pdf": tool("pdftotext", "-raw", "-", "-", data=plainly_printed(sheet, "a4", detail=False)),
        "html": "".join(page_of(html_of(sheet)).words),
        "terminal": terminal_of(sheet, 80),
    }
    for face, text in shown.items():
        whole = squeezed(text)
        for figure in figures_of(sheet):
            assert squeezed(figure) in whole, (face, figure)


def test_a_figure_above_the_page_is_not_left_out_unsaid():
    """Lists end with how many entries stand only in the record."""
    for seed in range(0, COUNT, 13):
        record, sheet = generated(seed), sheet_of(seed)
        found = sheet.listings[0]
        told = len(record.diagnosis.findings)
        if told > len(found.items):
            assert re.search(rf"\b{told - len(found.items)}\b", found.more), seed
