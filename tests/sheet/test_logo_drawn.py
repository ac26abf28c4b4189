"""A clean logo as the faces draw it: the same picture, inside its box, in a page to be archived."""

import base64
import shutil
import subprocess
from io import BytesIO

import pytest
import typst
from logo_files import TERN_PNG, TERN_SVG, svg
from PIL import Image, ImageChops

from agent.sheet.logos import read_logo

EDGE = 30
WIDE, HIGH = 200, 80
STOPS = '<stop offset="0" stop-color="red"/><stop offset="1" stop-color="blue" stop-opacity=".5"/>'
BOX = 'viewBox="0 0 200 80"'


def drawing(inner):
    return svg(inner, head=BOX)


def typeset(tmp_path, kind, content, **options):
    """Return a page of 260 by 140 points with a logo of 200 by 80 in its middle."""
    (tmp_path / f"logo.{kind}").write_bytes(content)
    page = tmp_path / "page.typ"
    page.write_text(
        f"#set page(width: {WIDE + 2 * EDGE}pt, height: {HIGH + 2 * EDGE}pt, margin: {EDGE}pt)\n"
        f'#image("logo.{kind}", width: {WIDE}pt, height: {HIGH}pt)\n'
    )
    return typst.compile(str(page), root=str(tmp_path), **options)


def painted(tmp_path, kind, content):
    page = Image.open(BytesIO(typeset(tmp_path, kind, content, format="png", ppi=72)))
    return page.convert("RGB")


def inked(picture):
    """Return the box of everything that is not paper."""
    return ImageChops.invert(picture).getbbox()


def gradient(kind, said=""):
    return f'<{kind} id="a" {said}>{STOPS}</{kind}><rect width="200" height="80" fill="url(#a)"/>'


def stroked(way, said):
    return f'<path d="{way}" stroke="red" stroke-width="9e5" {said}/>'


def scaled(factor, times):
    """Return a circle scaled over and over, beside a shape that is not."""
    return f'<g transform="scale({factor})">' * times + '<circle r="1"/>' + "</g>" * times + SMALL


SMALL = '<rect width="9" height="9"/>'
CLIP = '<clipPath id="c"><circle r="30"/></clipPath>'
MANY = f'<clipPath id="c">{SMALL * 400}</clipPath>'

SHAPES = {
    "linear": gradient("linearGradient"),
    # A gradient that repeats would be a program in a PDF.
    "repeated": gradient("linearGradient", 'x2=".1" spreadMethod="repeat"'),
    "radial": gradient("radialGradient", 'fx="5" r=".1" spreadMethod="reflect"'),
    "see-through": '<g opacity=".3"><path d="M0 0h99v50z" fill="#12345678"/></g>',
    "clipped": f'{CLIP}<g clip-path="url(#c)"><circle r="90" opacity=".5"/></g>',
    "beyond the box": '<path d="M-9000 -9000H9000V9000H-9000Z" fill="red"/>',
    "thick": stroked("M0 0L200 80", ""),
    "pointed": stroked("M0 0H100L0 .01", 'stroke-miterlimit="9e5"'),
    "large upon large": scaled("1e6", 28),
    "small upon small": scaled("1e-9", 28),
    "of no size": scaled("0", 1),
    "broken off": f'<path d="L5 5 M 1"/>{SMALL}',
    "clipped often": MANY + '<circle r="9" clip-path="url(#c)"/>' * 50,
}


@pytest.mark.parametrize("inner", SHAPES.values(), ids=SHAPES)
def test_whatever_a_logo_draws_stays_in_its_box_of_an_archived_page(tmp_path, inner):
    """ISO 19005-2: the compiler refuses what a PDF/A may not hold."""
    clean = read_logo(drawing(inner)).content
    page = typeset(tmp_path, "svg", clean, format="pdf", pdf_standards=["a-2b"])
    assert page.startswith(b"%PDF-")
    left, top, right, bottom = inked(painted(tmp_path, "svg", clean))
    assert (left >= EDGE, top >= EDGE) == (True, True)
    assert (right <= EDGE + WIDE, bottom <= EDGE + HIGH) == (True, True)


def test_without_cleaning_a_repeated_gradient_could_not_be_archived(tmp_path):
    """That the test above can fail."""
    with pytest.raises(typst.TypstError, match="PDF/A"):
        typeset(tmp_path, "svg", drawing(SHAPES["repeated"]), format="pdf", pdf_standards=["a-2b"])


def test_our_own_logo_looks_as_it_did_before(tmp_path):
    before = painted(tmp_path, "svg", TERN_SVG)
    after = painted(tmp_path, "svg", read_logo(TERN_SVG).content)
    assert ImageChops.difference(before, after).getbbox() is None
    left, top, right, bottom = inked(after)
    assert right - left > 0.8 * WIDE
    assert bottom - top > 0.8 * HIGH


def test_both_kinds_of_our_own_logo_look_alike(tmp_path):
    drawn = painted(tmp_path, "svg", read_logo(TERN_SVG).content)
    dotted = painted(tmp_path, "png", read_logo(TERN_PNG).content)
    difference = ImageChops.difference(drawn, dotted).convert("L")
    # Only what lies on an edge of a shape may differ.
    assert sum(difference.histogram()[96:]) < 0.005 * drawn.width * drawn.height
    archived = {"format": "pdf", "pdf_standards": ["a-2b"]}
    page = typeset(tmp_path, "png", read_logo(TERN_PNG).content, **archived)
    assert page.startswith(b"%PDF-")


def test_a_browser_shows_both_kinds_in_their_size(tmp_path):
    if shutil.which("chromium") is None:
        pytest.skip("chromium is not installed")
    shown = [read_logo(content) for content in (TERN_SVG, TERN_PNG)]
    images = "".join(
        f'<img src="data:image/{mime};base64,{base64.b64encode(logo.content).decode()}">'
        for mime, logo in zip(("svg+xml", "png"), shown, strict=True)
    )
    told = "[...document.images].map(one => [one.naturalWidth, one.naturalHeight]).join(' ')"
    page = tmp_path / "page.html"
    page.write_text(f"{images}<script>onload = () => document.body.textContent = {told}</script>")
    profile = f"--user-data-dir={tmp_path / 'profile'}"
    argv = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", profile, "--dump-dom"]
    done = subprocess.run([*argv, page.as_uri()], capture_output=True, timeout=90, check=True)
    assert b"<body>400,160 240,96</body>" in done.stdout
