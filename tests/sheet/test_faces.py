"""The faces: one page, the same numbers, and nothing in a record is ever executed."""

import io
import re
import shutil
import string
import subprocess
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from records import CASES, extreme, healthy

from agent.record import Finding, Segment
from agent.record.seal import seal
from agent.sheet.catalogue import areas
from agent.sheet.html import STYLE, html_of
from agent.sheet.pdf import PAPERS, pdf_of
from agent.sheet.sentences import MOST_ITEMS
from agent.sheet.terminal import console_for, print_sheet
from agent.sheet.view import build_sheet
from agent.sheet.wording import SENTENCE, finding_sentence

HOSTILE = [
    "<script>alert(1)</script><img src=x onerror=alert(1)>",
    "\"><svg onload='alert(1)'></style></title>&amp;<!--",
    '#read("/etc/passwd") $x$ *b* _i_ @ref <label> #{panic()} \\ // ` ``` [',
    "\x1b[2J\x1b]0;owned\x07\x9b31m [bold]markup[/bold] [link=http://x]y[/link]",
    "\u202egnp.exe \u2067\u200f\u05e9\u05dc\u05d5\u05dd \u0645\u0631\u062d\u0628\u0627",
    "{0} {x.__class__} %s %(a)s ${HOME} {{7*7}}",
    "W" * 200,
    "\u3042" * 200,
    "\U0001f4a9 e\u0301\u0302\u0303\u0304 \ud800 \x00",
]


def sheet_of(record):
    return build_sheet(seal(record))


def terminal_of(sheet, width, *, detail=False):
    out = io.StringIO()
    print_sheet(sheet, console_for(out, width), detail=detail)
    return out.getvalue()


class Page(HTMLParser):
    """What a browser would make of the page: tags, attributes, text."""

    def __init__(self):
        super().__init__()
        self.tags, self.attributes, self.words = set(), set(), []

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.attributes.update(name for name, _ in attrs)

    def handle_data(self, data):
        self.words.append(data)


# One line of names reads better than forty strings.
ALLOWED_TAGS = frozenset(
    re.findall(
        r"\w+",
        "html head meta title style body svg defs pattern line rect path header main section div "
        "b i small p h1 h2 h3 ul li span dl dt dd bdi table thead tbody tr th td br strong code "
        "img",
    )
)


def page_of(html):
    page = Page()
    page.feed(html)
    page.close()
    return page


def tool(*argv, data):
    if shutil.which(argv[0]) is None:
        pytest.skip(f"{argv[0]} is not installed")
    done = subprocess.run(argv, input=data, capture_output=True, timeout=60, check=False)
    return done.stdout.decode(errors="replace") + done.stderr.decode(errors="replace")


def pages(pdf):
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("case", CASES)
def test_pdf_is_one_small_page_and_the_same_again(case, paper):
    sheet = sheet_of(CASES[case]())
    pdf = pdf_of(sheet, paper)
    assert pages(pdf) == 1
    assert len(pdf) <= 200_000
    assert pdf == pdf_of(sheet, paper)


def test_pdf_is_tagged_archivable_and_carries_its_letters(tmp_path):
    path = tmp_path / "sheet.pdf"
    path.write_bytes(pdf_of(sheet_of(healthy())))
    content = path.read_bytes()
    # ISO 19005-2 §6.6.4 and ISO 14289-1 §5: part, conformance A, and PDF/UA-1, as metadata.
    assert b"<pdfaid:part>2</pdfaid:part>" in content
    assert b"<pdfaid:conformance>A</pdfaid:conformance>" in content
    assert b"<pdfuaid:part>1</pdfuaid:part>" in content
    assert b"/StructTreeRoot" in content
    assert "No syntax or stream encoding errors" in tool("qpdf", "--check", str(path), data=b"")
    fonts = tool("pdffonts", str(path), data=b"").splitlines()[2:]
    assert fonts
    assert all(re.search(r"\byes yes\b", line) for line in fonts)


def test_a_record_without_a_time_still_has_a_page():
    assert pages(pdf_of(sheet_of(replace(healthy(), started="sometime")))) == 1


def numbers_of(sheet, *, detail=False):
    """Yield every figure that the model hands to the faces."""
    for bar in (*sheet.rates, *sheet.promises):
        yield from (bar.value, bar.interval, bar.limit)
    for spread in sheet.spreads.rows if sheet.spreads else ():
        yield from spread.cells
    for course in sheet.courses.rows if sheet.courses else ():
        yield course.mean
    for block in sheet.facts:
        yield from (pair.value for pair in block.pairs)
    yield sheet.ticket.value
    if detail:
        for table in sheet.detail.tables:
            for row in table.rows:
                yield from row
        for spread in sheet.detail.spreads.rows if sheet.detail.spreads else ():
            yield from spread.cells


def squeezed(text):
    return re.sub(r"\s", "", text)


@pytest.mark.parametrize("case", [name for name in CASES if name != "extreme"])
def test_every_face_carries_the_same_numbers(case):
    sheet = sheet_of(CASES[case]())
    shown = {
        "pdf": tool("pdftotext", "-raw", "-", "-", data=pdf_of(sheet, detail=True)),
        "html": "".join(page_of(html_of(sheet, detail=True)).words),
        "terminal": terminal_of(sheet, 80, detail=True),
    }
    for face, text in shown.items():
        whole = squeezed(text)
        for value in numbers_of(sheet, detail=True):
            assert squeezed(value) in whole, (face, value)
        for bar in (*sheet.rates, *sheet.promises):
            # A terminal of 80 columns has no room for what the other promises rest on.
            beside = squeezed(terminal_of(sheet, 120)) if face == "terminal" else whole
            assert squeezed(bar.sample) in beside, (face, bar.sample)
        assert squeezed(sheet.headline.verdict) in whole, face
        assert sheet.proof.record_id in whole, face


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_stays_text(text):
    sheet = sheet_of(extreme(text))
    html = html_of(sheet)
    page = page_of(html)
    assert page.tags <= ALLOWED_TAGS
    assert not [name for name in page.attributes if name.startswith("on") or name == "href"]
    assert len(html.encode()) <= 150_000
    for width in (80, 120):
        plain = terminal_of(sheet, width)
        assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", plain)
    assert pages(pdf_of(sheet)) == 1


def telling(text, codes):
    """A record with findings whose values, all that their sentences name, are one text."""
    said = string.Formatter()
    findings = tuple(
        Finding(
            code=code,
            segment=Segment.HOME,
            confidence=0.9,
            next_step="repeat-fit",
            values={name: text for _, name, _, _ in said.parse(areas.FINDING[code]) if name},
        )
        for code in codes
    )
    record = healthy()
    return replace(record, diagnosis=replace(record.diagnosis, findings=findings))


@pytest.mark.parametrize("text", HOSTILE[:2])
def test_no_finding_lets_what_the_network_said_become_markup(text):
    codes = list(areas.FINDING)
    for at in range(0, len(codes), MOST_ITEMS):
        page = page_of(html_of(sheet_of(telling(text, codes[at : at + MOST_ITEMS]))))
        assert page.tags <= ALLOWED_TAGS
        assert not [name for name in page.attributes if name.startswith("on") or name == "href"]


@pytest.mark.parametrize("text", HOSTILE)
def test_no_sentence_of_a_finding_holds_what_steers_a_terminal(text):
    for code in areas.FINDING:
        for finding in telling(text, [code]).diagnosis.findings:
            said = finding_sentence(finding.code, finding.values)
            assert not re.search(r"[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", said)
            assert len(said) <= SENTENCE


@given(st.text(max_size=220))
@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_text_leaves_one_page_and_no_tag(text):
    sheet = sheet_of(extreme(text))
    assert page_of(html_of(sheet)).tags <= ALLOWED_TAGS
    assert pages(pdf_of(sheet, "letter")) == 1


def test_html_fetches_nothing():
    html = html_of(sheet_of(healthy()))
    assert not re.search(r"(src|href|url)\s*=|@import|url\((?!#)", html)
    assert "default-src 'none'" in html


def luminance(colour):
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return sum(weight * c for weight, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


@pytest.mark.parametrize("theme", [0, 1, 2])
def test_contrast_is_aa(theme):
    """WCAG 2.2 §1.4.3 (text 4.5:1) and §1.4.11 (graphics 3:1)."""
    block = re.findall(r":root \{([^}]*--paper[^}]*)\}", STYLE.read_text())[theme]
    colour = dict(re.findall(r"--(\w+): (#\w{6})", block))

    def ratio(one, other):
        lighter, darker = sorted((luminance(colour[one]), luminance(colour[other])), reverse=True)
        return (lighter + 0.05) / (darker + 0.05)

    for text in ("ink", "soft"):
        for ground in ("paper", "wash"):
            assert ratio(text, ground) >= 4.5
    assert ratio("accent", "paper") >= 3


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("case", CASES)
def test_terminal_keeps_its_width_and_is_plain_where_it_is_no_terminal(case, width):
    shown = terminal_of(sheet_of(CASES[case]()), width)
    assert "\x1b" not in shown
    assert max(map(len, shown.splitlines())) <= width


def test_terminal_bounds_its_width():
    assert console_for(io.StringIO(), 20).width == 80
    assert console_for(io.StringIO(), 500).width == 120


def test_an_old_code_page_does_not_end_the_page():
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding="ascii")
    print_sheet(sheet_of(healthy()), console_for(stream, 80))
    stream.flush()
    assert b"Meets what was sold" in raw.getvalue()
