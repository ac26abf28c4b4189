"""The screen's page in a real browser: silent, offline, one printed page, readable by everybody."""

import io
import os
import shutil
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import pikepdf
import pytest
from generated import generated
from records import CASES, extreme, healthy
from test_faces import HOSTILE

from agent.record.seal import redact, seal
from agent.sheet.html import html_of
from agent.sheet.view import Dress, build_sheet

AXE = Path(sys.prefix) / "share" / "npm" / "node_modules" / "axe-core" / "axe.min.js"
SIZES = {"wide": (1280, 900), "phone": (360, 740)}
GENERATED = range(0, 500, 140)


def needed(what, *, there):
    if there:
        return
    if os.environ.get("REQUIRE_LAB"):
        pytest.fail(f"{what} is not installed")
    pytest.skip(f"{what} is not installed")


@dataclass
class Seen:
    """What a browser made of a page."""

    said: list
    asked: list
    page: object

    def printed(self, paper="A4"):
        return len(pikepdf.open(io.BytesIO(self.page.pdf(format=paper))).pages)

    def overflows(self):
        wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        return self.page.evaluate(wide) > 1


@pytest.fixture(scope="module")
def browser():
    chromium = shutil.which("chromium")
    needed("chromium", there=chromium is not None)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as tools:
        options = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
        made = tools.chromium.launch(executable_path=chromium, args=options)
        yield made
        made.close()


@pytest.fixture(scope="module")
def contexts(browser):
    """Windows by size, colour scheme and whether they are inspected; each is made once."""
    made = {}

    def context(size, scheme, *, inspected):
        if (size, scheme, inspected) not in made:
            width, height = SIZES[size]
            made[size, scheme, inspected] = browser.new_context(
                offline=True,
                bypass_csp=inspected,
                color_scheme=scheme,
                viewport={"width": width, "height": height},
            )
        return made[size, scheme, inspected]

    return context


@pytest.fixture
def opened(contexts, tmp_path):
    pages = []

    def opening(html, *, size="wide", scheme="light", inspected=False):
        page, said, asked = contexts(size, scheme, inspected=inspected).new_page(), [], []
        pages.append(page)
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.on("request", lambda request: asked.append(request.url))
        path = tmp_path / "sheet.html"
        path.write_text(html, encoding="utf-8")
        page.goto(path.as_uri())
        asked[:] = [url for url in asked if url != path.as_uri() and not url.startswith("data:")]
        return Seen(said, asked, page)

    yield opening
    for page in pages:
        page.close()


def page_of(record, *, language="en", detail=False):
    return html_of(build_sheet(seal(record), dress=Dress(language=language)), detail=detail)


@pytest.mark.parametrize("case", CASES)
def test_it_prints_on_one_page_and_a_second_where_asked(opened, case):
    seen = opened(page_of(CASES[case]()))
    assert (seen.printed("A4"), seen.printed("Letter")) == (1, 1)
    assert opened(page_of(CASES[case](), detail=True)).printed("Letter") == 2


@pytest.mark.parametrize("text", HOSTILE[::2])
def test_hostile_text_prints_on_one_page_and_runs_nothing(opened, text):
    seen = opened(page_of(extreme(text)))
    assert seen.printed("Letter") == 1
    assert not seen.said
    assert not seen.asked


@pytest.mark.parametrize("seed", GENERATED)
def test_a_record_of_any_shape_prints_on_one_page(opened, seed):
    language = ("en", "de")[seed // 140 % 2]
    seen = opened(page_of(generated(seed), language=language))
    assert seen.printed("A4") == 1
    assert not seen.said


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("case", ["healthy", "extreme"])
def test_nothing_is_cut_at_the_side(opened, case, size):
    assert not opened(page_of(CASES[case](), detail=True), size=size).overflows()


@pytest.mark.parametrize(
    ("case", "scheme", "size"),
    [
        ("healthy", "light", "wide"),
        ("healthy", "dark", "phone"),
        ("below", "dark", "wide"),
        ("no-lease", "light", "phone"),
        ("unproven", "light", "wide"),
        ("extreme", "light", "phone"),
    ],
)
def test_everybody_can_read_it(opened, case, scheme, size):
    """axe-core's rules of WCAG 2.2 level A and AA, and its best practices."""
    needed("axe-core", there=AXE.is_file())
    html = page_of(CASES[case](), detail=True)
    seen = opened(html, size=size, scheme=scheme, inspected=True)
    seen.page.evaluate(AXE.read_text(encoding="utf-8"))
    found = seen.page.evaluate("axe.run()")
    assert [(one["id"], one["nodes"][0]["html"]) for one in found["violations"]] == []
    assert len(found["passes"]) > 10


def test_a_reader_hears_the_page_in_its_order(opened):
    """What is read aloud first is what decides: verdict, strip, rates, next step."""
    told = opened(page_of(healthy())).page.locator("body").aria_snapshot()
    places = [
        told.index(text) for text in ("Meets what was sold", "Laptop", "Download", "Next step")
    ]
    assert places == sorted(places)
    assert "heading" in told
    assert 'img "Download: ' in told


@pytest.mark.parametrize("size", SIZES)
def test_a_page_that_runs_from_right_to_left_is_whole(opened, size):
    """No such language has words yet; its direction must not cost the layout anything."""
    turned = replace(build_sheet(seal(healthy())), direction="rtl")
    seen = opened(html_of(turned, detail=True), size=size)
    assert not seen.overflows()
    assert seen.printed() == 2
    assert seen.page.evaluate("getComputedStyle(document.body).direction") == "rtl"


def test_right_to_left_names_leave_the_figures_where_they_are(opened):
    """A bidirectional name is isolated (UAX #9 §2.4, HTML's bdi): what stands around it stays."""
    plain, turned = healthy(), extreme("שלום עולם")
    for record in (plain, turned):
        seen = opened(page_of(record))
        assert not seen.overflows()
        assert seen.page.evaluate("getComputedStyle(document.body).direction") == "ltr"


def test_a_redacted_page_says_so_and_names_nobody(opened):
    html = html_of(build_sheet(redact(seal(healthy()))))
    text = opened(html).page.inner_text("body")
    assert "Redacted" in text
    assert "Okafor" not in text
    assert "198.51.100" not in text
