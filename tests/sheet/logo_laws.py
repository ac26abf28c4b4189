"""What holds for every logo that was read, whatever the file was, in lists of the tests' own.

SVG is the W3C's SVG 1.1 (Second Edition).
"""

import re
import string
import xml.etree.ElementTree as ET

from agent.errors import LogoError
from agent.sheet.logos import read_logo

NAMESPACE = "{http://www.w3.org/2000/svg}"
ELEMENTS = """
    svg g path rect circle ellipse line polyline polygon defs linearGradient radialGradient stop
    clipPath
""".split()  # noqa: SIM905 - read as one list
"""SVG 1.1 §5, §8, §9, §13.2 and §14.3: what draws, and nothing that fetches, runs or shows text."""

NAMES = """
    viewBox width height id d x y cx cy r rx ry x1 y1 x2 y2 fx fy points transform offset
    gradientUnits gradientTransform clipPathUnits clip-path clip-rule color fill fill-opacity
    fill-rule opacity stroke stroke-linecap stroke-linejoin stroke-miterlimit stroke-opacity
    stroke-width visibility stop-color stop-opacity
""".split()  # noqa: SIM905 - as above
VALUE = set(string.ascii_letters + string.digits + " .,+-%#()_")


def harmless(content):
    """Hold a clean SVG against the lists above; they are not those of the code."""
    text = content.decode("ascii")
    assert text.count("<") == text.count("/>") + 2 * text.count("</")
    for element in ET.fromstring(text).iter():
        assert element.tag.removeprefix(NAMESPACE) in ELEMENTS
        assert not element.text
        assert not element.tail
        for name, value in element.attrib.items():
            assert name in NAMES
            assert set(value) <= VALUE
            assert re.sub(r"url\(#[\w.-]+\)", "", value).count("url") == 0
    return text


def attempted(content):
    """Return the logo, None where it is refused with a whole sentence."""
    try:
        return read_logo(content)
    except LogoError as error:
        sentence = error.sentence()
        assert sentence.isprintable()
        assert sentence.startswith("The company's logo cannot be shown: ")
        assert "identity.logo" in sentence
        return None


def lawful(content):
    """Hold what every reading must give, whatever the content is."""
    logo = attempted(content)
    if logo is None:
        return
    assert attempted(content) == logo
    again = read_logo(logo.content)
    assert (again.content, again.kind) == (logo.content, logo.kind)
    assert again.width_ratio == logo.width_ratio
    assert again.left_out == ()
    assert 1 / 20 <= logo.width_ratio <= 20
    assert len(logo.content) <= {"svg": 24_000, "png": 40_000}[logo.kind]
    if logo.kind == "svg":
        harmless(logo.content)
