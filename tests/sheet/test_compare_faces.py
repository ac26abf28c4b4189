"""The faces of records side by side: one page, the same figures, and nothing is ever executed."""

import io
import re
import shutil
import subprocess
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from records import CASES, below, empty, extreme, healthy, lossy, no_lease
from test_faces import ALLOWED_TAGS, HOSTILE, page_of, pages, squeezed, tool

from agent.record.seal import redact, seal
from agent.sheet.comparison import build_comparison
from agent.sheet.comparison.draw import apart_svg
from agent.sheet.comparison.fit import print_size_pt
from agent.sheet.comparison.html import comparison_html
from agent.sheet.comparison.model import Apart, Interval
from agent.sheet.comparison.pdf import comparison_pdf
from agent.sheet.comparison.terminal import print_comparison
from agent.sheet.pdf import PAPERS
from agent.sheet.terminal import console_for


def later():
    return replace(healthy(), started="2026-03-02T11:14:07Z")


GROUPS = {
    "two": (below, later),
    "three": (healthy, lossy, below),
    "four": (empty, no_lease, lossy, below),
    "nothing": (empty, empty),
    "extreme": (extreme,) * 4,
}


def compared(*makes):
    return build_comparison([seal(make()) for make in makes])


def terminal_of(comparison, width):
    out = io.StringIO()
    print_comparison(comparison, console_for(out, width))
    return out.getvalue()


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("group", GROUPS)
def test_pdf_is_one_small_page_and_the_same_again(group, paper):
    stored = [seal(make()) for make in GROUPS[group]]
    pdf = comparison_pdf(build_comparison(stored), paper)
    assert pages(pdf) == 1
    assert len(pdf) <= 250_000
    assert pdf == comparison_pdf(build_comparison(stored), paper)


def test_pdf_is_tagged_and_archivable():
    content = comparison_pdf(compared(below, healthy))
    # ISO 19005-2 §6.6.4 and ISO 14289-1 §5: part, conformance A, and PDF/UA-1, as metadata.
    assert b"<pdfaid:part>2</pdfaid:part>" in content
    assert b"<pdfaid:conformance>A</pdfaid:conformance>" in content
    assert b"<pdfuaid:part>1</pdfuaid:part>" in content
    assert b"/StructTreeRoot" in content


def figures_of(comparison):
    """Yield every figure and conclusion that the model hands to the faces."""
    for row in (*comparison.rates, *comparison.figures):
        yield from row.under
        yield from (row.note, row.change.text)
        for bar in row.cells:
            yield from (bar.value, bar.interval, bar.limit, bar.sample, bar.aside, bar.outcome)
    for row in comparison.spreads.rows if comparison.spreads else ():
        yield row.change.text
        for cell in row.cells:
            yield from (cell.figures, cell.sample)
    for column in comparison.columns:
        yield from (column.label, column.verdict, column.place)
    yield from comparison.banners
    yield from (pair.value for pair in comparison.common)


def letters(text):
    """Without space, and without the sign at which a face lists texts."""
    return squeezed(text).replace("·", "")


@pytest.mark.parametrize("group", ["two", "nothing"])
def test_every_face_carries_the_same_figures(group):
    comparison = compared(*GROUPS[group])
    shown = {
        "pdf": tool("pdftotext", "-raw", "-", "-", data=comparison_pdf(comparison)),
        "html": "".join(page_of(comparison_html(comparison)).words),
    }
    for face, text in shown.items():
        whole = letters(text)
        for figure in figures_of(comparison):
            assert letters(figure) in whole, (face, figure)


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("group", ["two", "three"])
def test_a_terminal_carries_every_number(group, width):
    """Cells stand beside each other there, so that a text may go on in the line below."""
    comparison = compared(*GROUPS[group])
    shown = set(re.findall(r"\d+(?:\.\d+)?", terminal_of(comparison, width)))
    for figure in figures_of(comparison):
        assert set(re.findall(r"\d+(?:\.\d+)?", figure)) <= shown, figure


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("group", GROUPS)
def test_a_terminal_keeps_its_width_and_is_plain(group, width):
    shown = terminal_of(compared(*GROUPS[group]), width)
    assert "\x1b" not in shown
    assert max(map(len, shown.splitlines())) <= width


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_stays_text(text):
    records = [seal(extreme(text)), seal(replace(extreme(text, 8), started=text)), seal(healthy())]
    comparison = build_comparison(records)
    html = comparison_html(comparison)
    page = page_of(html)
    assert page.tags <= ALLOWED_TAGS | {"circle"}
    assert not [name for name in page.attributes if name.startswith("on") or name == "href"]
    assert len(html.encode()) <= 250_000
    for width in (80, 120):
        plain = terminal_of(comparison, width)
        assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", plain)
    assert pages(comparison_pdf(comparison)) == 1


@given(st.text(max_size=220))
@settings(max_examples=5, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_text_leaves_one_page_and_no_tag(text):
    comparison = build_comparison([seal(extreme(text)), seal(below())])
    assert page_of(comparison_html(comparison)).tags <= ALLOWED_TAGS | {"circle"}
    assert pages(comparison_pdf(comparison, "letter")) == 1


def test_html_fetches_nothing_and_names_every_cell_where_no_column_is_above():
    html = comparison_html(compared(below, later))
    assert not re.search(r"(src|href|url)\s*=|@import|url\((?!#)", html)
    assert "default-src 'none'" in html
    rows = html.count('<th scope="row">')
    for name in ("Before", "After"):
        assert html.count(f'<span class="which">{name}</span>') == rows


def test_every_drawing_says_what_it_shows():
    """WCAG 2.2 §1.1.1: an image has a text, or is hidden where the text beside it says all."""
    for drawing in re.findall(r"<svg class=[^>]*>", comparison_html(compared(below, lossy))):
        assert "aria-label=" in drawing or 'aria-hidden="true"' in drawing


def test_the_first_interval_is_drawn_above_the_last():
    apart = Apart(
        first=Interval(low=0.0, value=0.1, high=0.2), last=Interval(low=0.5, value=0.7, high=1.0)
    )
    dots = re.findall(r'<circle [^>]*cx="([\d.]+)%" cy="([\d.]+)%"', apart_svg(apart))
    (first_x, first_y), (last_x, last_y) = [tuple(map(float, dot)) for dot in dots]
    assert (first_x, last_x) == (10, 70)
    assert first_y < last_y


def test_more_to_say_is_printed_smaller():
    sizes = [print_size_pt(compared(*GROUPS[name])) for name in ("nothing", "two", "four")]
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[0] > sizes[-1]


def test_a_redacted_page_has_no_name_in_any_face():
    stored = [redact(seal(make())) for make in (below, healthy)]
    comparison = build_comparison(stored)
    secret = [
        text
        for name in ("company", "contact", "technician", "premises", "work_order")
        if (text := getattr(healthy().private, name))
    ]
    faces = (
        comparison_html(comparison),
        terminal_of(comparison, 120),
        tool("pdftotext", "-raw", "-", "-", data=comparison_pdf(comparison)),
    )
    assert len(secret) > 3
    assert not [text for face in faces for text in secret if squeezed(text) in squeezed(face)]


@pytest.mark.parametrize("group", ["two", "four"])
def test_a_browser_prints_one_page(group, tmp_path):
    if shutil.which("chromium") is None:
        pytest.skip("chromium is not installed")
    page, printed = tmp_path / "compare.html", tmp_path / "compare.pdf"
    page.write_text(comparison_html(compared(*GROUPS[group])), encoding="utf-8")
    argv = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"]
    profile = f"--user-data-dir={tmp_path / 'profile'}"
    subprocess.run(
        [*argv, profile, f"--print-to-pdf={printed}", page.as_uri()],
        capture_output=True,
        timeout=90,
        check=True,
    )
    assert "Pages:           1" in tool("pdfinfo", str(printed), data=b"")


@pytest.mark.parametrize("case", CASES)
def test_any_two_records_stand_side_by_side(case):
    comparison = compared(CASES[case], healthy)
    assert pages(comparison_pdf(comparison)) == 1
    assert comparison.columns[0].verdict in comparison_html(comparison)
