"""The page before eyes that tell fewer colours apart, and out of a fax, which knows only black."""

import re
import shutil
import subprocess
from dataclasses import replace
from functools import cache
from io import BytesIO
from itertools import pairwise

import pytest
import zxingcpp
from PIL import Image
from records import CASES, below
from test_browser import needed
from test_one_page import printed

from agent.record.seal import seal
from agent.sheet.catalogue import LANGUAGES
from agent.sheet.html import STYLE, html_of
from agent.sheet.model import Cell, Ground
from agent.sheet.typeset import TEMPLATES
from agent.sheet.view import Dress, build_sheet

# Machado, Oliveira and Fernandes, A Physiologically-based Model for Simulation of Color Vision
# Deficiency, IEEE TVCG 15 (6), 2009: the matrices of severity 1.0 on linear RGB, from memory.
SEEN = {
    "all three cones": ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "no long cones": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "no middle cones": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "no short cones": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}
LUMINANCE = (0.2126, 0.7152, 0.0722)
"""WCAG 2.2, relative luminance of linear sRGB; so is the constant of the contrast ratio."""
FLARE = 0.05
TEXT, GRAPHIC = 4.5, 3.0
"""WCAG 2.2 1.4.3 and 1.4.11."""
USED_TOGETHER = {
    ("ink", "paper"): TEXT,
    ("soft", "paper"): TEXT,
    ("ink", "wash"): TEXT,
    ("accent", "paper"): GRAPHIC,  # bars and mounds
    ("accent", "wash"): GRAPHIC,  # the edge of the next step
    ("hair", "paper"): GRAPHIC,  # axes, the panel of what is not there, what was not counted
    ("hair", "accent"): GRAPHIC,  # what was not counted beside what was
    ("ink", "hair"): GRAPHIC,  # the limit across what was not counted
}
# Marks in ink over bars are no pair: they reach out of the bar, where they stand on paper.


@cache
def palettes():
    css = STYLE.read_text(encoding="utf-8")
    blocks = re.findall(r":root \{([^}]*--paper[^}]*)\}", css)
    light, dark, on_paper = [dict(re.findall(r"--(\w+): (#\w{6})", block)) for block in blocks]
    style = (TEMPLATES / "style.typ").read_text(encoding="utf-8")
    pdf = {"paper": "#ffffff", **dict(re.findall(r'#let (\w+) = rgb\("(#\w{6})"\)', style))}
    return {"light": light, "dark": dark, "print": on_paper, "pdf": pdf}


def linear(colour):
    """IEC 61966-2-1, as WCAG 2.2 quotes it."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    return [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]


def seen(colour, matrix):
    rows = [sum(m * c for m, c in zip(row, linear(colour), strict=True)) for row in matrix]
    return [min(1.0, max(0.0, c)) for c in rows]


def contrast(one, other, matrix):
    light = [
        sum(w * c for w, c in zip(LUMINANCE, seen(x, matrix), strict=True)) for x in (one, other)
    ]
    return (max(light) + FLARE) / (min(light) + FLARE)


@pytest.mark.parametrize("eyes", SEEN)
def test_greys_look_the_same_to_everybody(eyes):
    """What every such model keeps, so that a slip in a matrix shows: white, black and greys."""
    for grey in ("#000000", "#808080", "#ffffff"):
        assert seen(grey, SEEN[eyes]) == pytest.approx(linear(grey), abs=2e-6)


@pytest.mark.parametrize("eyes", ["no long cones", "no middle cones"])
def test_such_eyes_see_one_dimension_less(eyes):
    """Two kinds of cones span a plane of colours: the matrix has no volume, a slip gives it one."""
    (a, b, c), (d, e, f), (g, h, i) = SEEN[eyes]
    volume = a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g)
    assert volume == pytest.approx(0, abs=1e-5)


@pytest.mark.parametrize("eyes", SEEN)
@pytest.mark.parametrize("palette", ["light", "dark", "print", "pdf"])
@pytest.mark.parametrize("pair", USED_TOGETHER, ids=" on ".join)
def test_pairs_keep_their_contrast_for_all_eyes(pair, palette, eyes):
    one, other = (palettes()[palette][name] for name in pair)
    assert contrast(one, other, SEEN[eyes]) >= USED_TOGETHER[pair]


def test_all_faces_have_one_palette_and_no_colour_beside_it():
    made = palettes()
    assert made["light"] == made["print"] == made["pdf"]
    assert made["light"].keys() == made["dark"].keys()
    css = "".join(sheet.read_text(encoding="utf-8") for sheet in TEMPLATES.rglob("*.css"))
    rules = re.sub(r":root \{[^}]*\}", "", css)
    assert set(re.findall(r"#[0-9a-fA-F]{3,8}\b(?=[;\s])", rules)) <= {"#fff"}
    assert set(re.findall(r"var\(--(\w+)\)", rules)) - {"print"} <= made["light"].keys()
    for template in TEMPLATES.rglob("*.typ"):
        text = template.read_text(encoding="utf-8")
        assert template.name == "style.typ" or "rgb(" not in text
        assert not re.search(r"luma\(|cmyk\(|oklch\(|oklab\(", text)


def uprights(svg, name):
    """Return from where to where the upright lines of a class reach, in shares of the height."""
    lines = re.findall(
        rf'<line class="{name}" x1="(.*?)%" y1="(.*?)%" x2="(.*?)%" y2="(.*?)%"', svg
    )
    return [(float(y1), float(y2)) for x1, y1, x2, y2 in lines if x1 == x2]


def test_marks_over_a_bar_reach_onto_the_paper():
    """Ink on the accent is no contrast to rely on: every mark is longer than the bar is high."""
    html = html_of(build_sheet(seal(below())))
    bars = re.findall(r'<svg class="bar".*?</svg>', html)
    assert bars
    for bar in bars:
        block = re.search(r'class="value" x="[\d.]+%" y="([\d.]+)%".*?height="([\d.]+)%"', bar)
        top, high = map(float, block.groups())
        marks = [*uprights(bar, "interval"), *uprights(bar, "limit"), *uprights(bar, "sold")]
        assert all(began < top - 5 and ended > top + high + 5 for began, ended in marks)
    ticks = uprights(html, "figure")
    assert ticks
    assert all(ended >= 105 for _, ended in ticks)


# ── black and white, at the resolution of a fax ──

ACROSS, DOWN = 204, 196
"""ITU-T T.4: 1728 dots on 215 mm, and 7.7 lines per mm in fine mode; dots per inch."""
POINT = 72
MARGIN = 14 / 25.4 * POINT


@cache
def faxed(case, language="en", grounds=()):
    """Return a page as black dots with the boxes of its words, in points."""
    for program in ("pdftoppm", "pdftotext"):
        needed(program, there=shutil.which(program) is not None)
    sheet = build_sheet(seal(CASES[case]()), dress=Dress(language=language))
    if grounds:
        sheet = replace(sheet, strip=tuple(panel(at, g) for at, g in enumerate(grounds)))
    pdf = printed(sheet, "a4", detail=False)
    dots = run("pdftoppm", "-mono", "-rx", str(ACROSS), "-ry", str(DOWN), "-", data=pdf)
    told = run("pdftotext", "-bbox", "-", "-", data=pdf).decode()
    found = re.findall(
        r'<word xMin="(.*?)" yMin="(.*?)" xMax="(.*?)" yMax="(.*?)">(.*?)</word>', told
    )
    words = [(text, *map(float, box)) for *box, text in found]
    return sheet, Image.open(BytesIO(dots)).convert("L"), words


def panel(at, ground):
    """Return a panel whose texts leave its right half free."""
    return Cell(name=f"Segment{at}", ground=ground, state="said", evidence="seen")


def run(*argv, data):
    return subprocess.run(argv, input=data, capture_output=True, timeout=60, check=True).stdout


def black(picture, left, top, right, bottom):
    """Return the share of black dots in a rectangle given in points."""
    across, down = ACROSS / POINT, DOWN / POINT
    box = (round(left * across), round(top * down), round(right * across), round(bottom * down))
    part = picture.crop(box)
    return part.histogram()[0] / (part.width * part.height)


def test_a_fax_has_two_values():
    _, picture, _ = faxed("below")
    assert picture.size == pytest.approx((210 / 25.4 * ACROSS, 297 / 25.4 * DOWN), abs=2)
    assert sum(picture.histogram()[1:255]) == 0


DARKER = (Ground.CLEAR, Ground.UNREACHED, Ground.POSSIBLE, Ground.LIKELY)
LEAST_APART = 2
"""A ground has at least this many times the black of the one before."""


def test_grounds_of_the_strip_stay_apart_without_grey():
    """Paper, dots, hatching, black, with the texts on all of them read (see the next test)."""
    _, picture, words = faxed("below", grounds=(*DARKER, Ground.ABSENT, Ground.UNFIT))
    share = {}
    for at, ground in enumerate((*DARKER, Ground.ABSENT, Ground.UNFIT)):
        _, left, top, _, _ = next(word for word in words if word[0] == f"Segment{at}")
        # A panel is 30 mm wide and 3.5 lines high; its texts end within its left half.
        share[ground] = black(picture, left + 55, top + 1, left + 75, top + 18)
    assert share[Ground.CLEAR] == share[Ground.ABSENT] == 0
    assert share[Ground.UNREACHED] > 0.01
    assert share[Ground.LIKELY] > 0.8
    for lighter, darker in pairwise(DARKER):
        assert share[darker] > max(0.01, LEAST_APART * share[lighter]), (lighter, darker, share)
    assert share[Ground.UNFIT] == pytest.approx(share[Ground.POSSIBLE], abs=0.05)


def beside(words, text):
    """Return the box that the mark left of a word fills: 0.72 of its size, 0.3 before it."""
    _, left, top, _, bottom = next(word for word in words if word[0] == text)
    size = bottom - top
    return left - 1.05 * size, top + 0.1 * size, left - 0.25 * size, top + 0.85 * size


def test_marks_of_kept_missed_and_open_differ_in_black():
    """A tick, a full square and a hatched one; only their shape tells, they have no colour."""
    shares = []
    for case, word in (("below", "kept"), ("unproven", "not"), ("below", "missed")):
        _, picture, words = faxed(case)
        rows = [w for w in words if w[1] > 300] if word == "not" else words
        shares.append(black(picture, *beside(rows, word)))
    assert shares[0] > 0.05
    for lighter, darker in pairwise(shares):
        assert darker > lighter + 0.1, shares


def test_verdicts_differ_in_black():
    """The frame's left edge, inside of its rule: paper, hatching, black."""
    shares = []
    for case in ("healthy", "unproven", "below"):
        sheet, picture, words = faxed(case)
        first = sheet.headline.verdict.split()[0]
        _, _, top, _, bottom = next(word for word in words if word[0] == first)
        shares.append(black(picture, MARGIN + 1.2, top, MARGIN + 4.2, bottom))
    assert shares[0] == 0
    assert 0.08 < shares[1] < 0.6
    assert shares[2] > 0.8


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("case", ["healthy", "below", "no-lease", "extreme"])
def test_the_square_code_is_read_from_a_fax(case, language):
    """ISO/IEC 18004, by a reader that is none of ours."""
    sheet, picture, _ = faxed(case, language)
    found = zxingcpp.read_barcodes(picture)
    assert [one.text for one in found] == [sheet.proof.code_text]
