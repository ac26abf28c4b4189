"""A company's logo: whatever the file holds, a harmless picture or one sentence.

SVG is the W3C's SVG 1.1 (Second Edition), PNG its Portable Network Graphics (Second Edition).
"""

import gzip
import re
import string
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from logo_files import SAFE, TERN_PNG, TERN_SVG, png, svg
from logo_laws import ELEMENTS, NAMES, NAMESPACE, harmless, lawful

from agent.errors import LogoError, PageError
from agent.sheet.logos import Logo, read_logo

XLINK = "xlink:href"
FOREIGN = '<foreignObject width="9" height="9"><body xmlns="http://www.w3.org/1999/xhtml"><script>'
END = "</script></body></foreignObject>"

# name, what stands beside a safe shape (SAFE), what must not be left of it
DROPPED = [
    ("script", "<script>alert(1)</script>", ("script", "alert")),  # §18.2
    ("script in CDATA", "<script><![CDATA[</svg>alert(1)]]></script>", ("alert",)),
    ("script by address", f'<script {XLINK}="https://ternbay.example/x.js"/>', ("example",)),
    ("event", '<rect width="9" height="9" onload="alert(1)" onclick="x"/>', ("on", "alert")),
    ("event in capitals", '<g ONLOAD="alert(1)"><path d="M0 0h1"/></g>', ("ONLOAD", "alert")),
    ("mixed case", '<ScRiPt>alert(1)</ScRiPt><G onLoad="x"/>', ("alert", "onLoad")),
    ("script by prefix", '<s:script xmlns:s="http://www.w3.org/2000/svg">alert(1)</s:script>', ()),
    ("script of HTML", '<h:script xmlns:h="http://www.w3.org/1999/xhtml">x()</h:script>', ("x()",)),
    ("shape of HTML", '<h:rect xmlns:h="http://www.w3.org/1999/xhtml" onload="x"/>', ("onload",)),
    ("foreign object", f"{FOREIGN}alert(1){END}", ("foreign", "body", "alert")),  # §23.3
    ("image by address", f'<image {XLINK}="https://ternbay.example/a.png"/>', ("example",)),
    ("image in place", f'<image {XLINK}="data:image/svg+xml;base64,PHN2Zz4="/>', ("data:",)),
    ("image of SVG 2", '<image href="data:text/html,x"/>', ("data:",)),
    ("use", f'<use {XLINK}="https://ternbay.example/a.svg#x"/>', ("use", "example")),  # §5.6
    ("link", f'<a {XLINK}="javascript:alert(1)"><path d="M0 0h1"/></a>', ("javascript",)),  # §17.1
    ("animate", '<animate attributeName="href" values="javascript:x"/>', ("javascript",)),  # §19
    ("set", '<g><set attributeName="onload" to="x()"/><path d="M0 0h1"/></g>', ("onload", "set")),
    ("style sheet", "<style>@import url(https://ternbay.example/a.css);</style>", ("import",)),
    ("style by address", '<g style="fill:url(https://ternbay.example/#a)"><path d="M0 0h1"/></g>',
     ("example",)),
    ("style with escapes", r'<g style="fill:\75 rl(//a.example/)"><path d="M0 0h1"/></g>',
     ("example",)),
    ("fill by address", '<rect width="1" height="1" fill="url(//a.example/#b)"/>', ("example",)),
    ("filter", '<g filter="url(https://a.example/#f)"><path d="M0 0h1"/></g>', ("filter",)),  # §15
    ("cursor", '<g cursor="url(https://a.example/c)"><path d="M0 0h1"/></g>', ("cursor",)),
    ("mask", '<mask id="m"><image/></mask><path d="M0 0h1" mask="url(#m)"/>', ("mask",)),
    ("base", '<g xml:base="https://a.example/"><path d="M0 0h1"/></g>', ("base", "example")),
    ("text", "<text>Tern Bay</text><g><text><tspan>x</tspan></text></g>", ("Tern", "text")),  # §10
    ("loose text", "Tern Bay<g>Fibre<path d='M0 0h1'/>x</g>", ("Tern", "Fibre")),
    ("title", "<title>Tern Bay</title><desc>&lt;b></desc>", ("Tern", "title", "desc")),  # §5.4
    ("metadata", "<metadata><r:RDF xmlns:r='http://r.example/'/></metadata>", ("RDF",)),  # §21
    ("XInclude", '<x:include xmlns:x="http://www.w3.org/2001/XInclude" href="file:///etc/passwd"/>',
     ("include", "passwd")),
    ("instruction", '<?xml-stylesheet href="https://a.example/a.css"?>', ("stylesheet",)),
    ("comment", "<!-- hush --><!--><script>alert(1)</script>-->", ("hush", "alert")),
    ("drawing in a drawing", '<svg onload="x"><script>y</script></svg>', ("onload", "script")),
    ("handler", '<handler xmlns:ev="http://www.w3.org/2001/xml-events" ev:event="load">x</handler>',
     ("handler", "event")),
    ("character reference", '<path d="M0 0h1" fill="&#x75;rl(&#47;&#47;a.example&#47;)"/>',
     ("example",)),
    ("quote in a value", "<path d='M0 0h1' fill='\">&lt;script>x'/>", ("script",)),
    ("dash bomb", '<path d="M0 0h1" stroke-dasharray="0.000001"/>', ("dash",)),  # §11.4
    ("endless number", f'<path d="M0 0h{"9" * 400}"/>', ("999",)),
    ("number with a large exponent", '<rect width="1e99" height="1"/>', ("1e99",)),
]  # fmt: skip


@pytest.mark.parametrize(("inner", "gone"), [c[1:] for c in DROPPED], ids=[c[0] for c in DROPPED])
def test_what_does_more_than_draw_is_left_out(inner, gone):
    content = svg(inner + SAFE)
    text = harmless(read_logo(content).content)
    assert 'width="20"' in text
    assert [word for word in gone if word in text] == []
    lawful(content)


ENTITIES = '<!DOCTYPE svg [<!ENTITY a "ha"><!ENTITY b "&a;&a;">]>'
EXTERNAL = '<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
PUBLIC = '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/svg11.dtd">'
NOT_SVG = "neither an SVG nor a PNG"

REFUSED = [
    ("empty", b"", NOT_SVG),
    ("words", b"Tern Bay Fibre", NOT_SVG),
    ("JPEG", b"\xff\xd8\xff\xe0", NOT_SVG),
    # RFC 1952 §2.3.1
    ("gzip", gzip.compress(svg()), "compressed"),
    # Unicode §23.8: the byte order marks of UTF-16
    ("UTF-16", svg().decode().encode("utf-16"), "UTF-16"),
    ("UTF-16, other order", b"\xfe\xff" + svg().decode().encode("utf-16-be"), "UTF-16"),
    ("UTF-16 without a mark", svg().decode().encode("utf-16-le"), "no text in UTF-8"),
    ("UTF-7", b'<?xml version="1.0" encoding="UTF-7"?>+ADw-svg/>', "no sound XML"),
    ("Latin-1", '<?xml version="1.0" encoding="ISO-8859-1"?><svg a="ü"/>'.encode("latin-1"),
     "no sound XML"),
    ("entity", svg(before=ENTITIES, inner="<title>&b;</title>"), "document type"),
    ("entity from outside", svg(before=EXTERNAL, inner="<title>&x;</title>"), "document type"),
    ("document type", svg(before=PUBLIC), "document type"),
    ("entity nobody told", svg("&a;" + SAFE), "no sound XML"),
    ("not closed", svg()[:-3], "no sound XML"),
    ("two roots", svg() + svg(), "no sound XML"),
    ("null byte", svg("\0" + SAFE), "no text in UTF-8"),
    ("namespace with a brace", svg(f'<g xmlns="{NAMESPACE[1:]}script"/>'), "no sound XML"),
    ("prefix nobody told", svg('<x:rect width="1"/>'), "no sound XML"),
    ("attribute twice", svg('<rect width="1" width="2"/>'), "no sound XML"),
    ("HTML", b"<html><svg/></html>", "no SVG"),
    ("no namespace", b'<svg viewBox="0 0 1 1"><path d="M0 0h1"/></svg>', "no SVG"),
    ("SVG's name elsewhere", b'<svg xmlns="http://www.w3.org/1999/xhtml"/>', "no SVG"),
    ("deep", svg("<g>" * 32 + SAFE + "</g>" * 32), "deep"),
    ("very deep", svg("<g>" * 9_000), "deep"),
    ("many elements", svg("<g/>" * 1_000), "1000 elements"),
    ("very many elements", svg("<g/>" * 1_000_000), "64 kB"),
    ("large", svg(f"<!--{'a' * 64_000}-->"), "64 kB"),
    ("many details", svg(f'<path d="M0 0{"h1" * 12_000}"/>'), "24 kB"),
    ("nothing", svg(""), "nothing in the SVG"),
    ("text alone", svg("<text>Tern Bay</text>"), "nothing in the SVG"),
    ("helpers alone", svg(f'<defs>{SAFE}<clipPath id="c">{SAFE}</clipPath></defs>'), "nothing"),
    ("hidden alone", svg(f'<g display="none">{SAFE}</g>'), "nothing"),
    ("hidden by style", svg(f'<g style="x:y; display : none !important">{SAFE}</g>'), "nothing"),
    ("a path without a way", svg('<path/><path d=""/><path d="url(#a)"/><rect/>'), "nothing"),
    ("no size", svg(head=""), "how large"),
    ("size in shares", svg(head='width="100%" height="100%"'), "how large"),
    ("size of three", svg(head='viewBox="0 0 40"'), "how large"),
    ("size in words", svg(head='viewBox="0 0 wide high" width="4" height="2"'), "how large"),
    ("size beyond use", svg(head='viewBox="0 0 1e9 1e9"'), "how large"),
    ("no area", svg(head='viewBox="0 0 40 0"'), "no area"),
    ("turned round", svg(head='viewBox="0 0 -40 20"'), "no area"),
    ("a line", svg(head='viewBox="0 0 420 20"'), "20 times"),
    ("clipped often", svg('<clipPath id="c"><path d="M0 0h1"/></clipPath>'
                          + '<path clip-path="url(#c)" d="M0 0h1"/>' * 51), "50 times"),
]  # fmt: skip


@pytest.mark.parametrize(("content", "told"), [c[1:] for c in REFUSED], ids=[c[0] for c in REFUSED])
def test_what_cannot_be_shown_is_refused_in_a_sentence(content, told):
    with pytest.raises(LogoError, match=told) as caught:
        read_logo(content)
    assert isinstance(caught.value, PageError)
    lawful(content)


GRADIENT = '<linearGradient id="a"><stop offset="5%"/></linearGradient>'
CLIPPED = '<path clip-path="url(#c)" d="M0 0h1"/>'

# what stands in the drawing, what must be there afterwards
KEPT = [
    ('<path d=" M0,0\n h 9 " fill=" red "/>', '<path d="M0,0 h 9" fill="red"/>'),
    ('<path d="M0 0h1" style="fill:#FFF;stroke : none"/>', 'fill="#FFF" stroke="none"'),
    # §6.4: a style says more than an attribute of presentation
    ('<path d="M0 0h1" fill="red" style="fill:blue"/>', 'fill="blue"'),
    # §7.6
    (f'<g transform="translate(1 2),scale( 3 )">{SAFE}</g>', '"translate(1 2) scale(3)"'),
    (f'<g transform="translate(1) url(#a)">{SAFE}</g>', f"<g>{SAFE[:6]}"),
    # §4.2
    ('<path d="M0 0h1" fill="rgb(100%, 0%,0%)"/>', 'fill="rgb(100%, 0%,0%)"'),
    ('<path d="M0 0h1" fill="rgb(1,&#9;2,\n3)"/>', 'fill="rgb(1, 2, 3)"'),
    ('<path d="M0 0h1" fill="#12345"/>', '<path d="M0 0h1"/>'),
    ('<path d="M0 0h1" fill="currentColor"/>', 'fill="currentColor"'),
    # §11.2: what stands in for a gradient that is not there, none where nothing does
    ('<path d="M0 0h1" fill="url(#no) red"/>', 'fill="red"'),
    ('<path d="M0 0h1" fill="url(#no)"/>', 'fill="none"'),
    ('<rect id="r" width="1" height="1"/><path d="M0 0h1" fill="url(#r)"/>', 'fill="none"'),
    (f'{GRADIENT}<path d="M0 0h1" fill="url(#a)"/>',
     f'{GRADIENT}<path d="M0 0h1" fill="url(#a) none"/>'),
    # §13.2.2: a gradient without stops has those of the one it refers to
    (f'<radialGradient id="b" xlink:href="#a"/>{GRADIENT}<path d="M0 0h1"/>',
     '<radialGradient id="b"><stop offset="5%"/></radialGradient>'),
    ('<linearGradient id="b" href="#b"/><path d="M0 0h1"/>', '<linearGradient id="b"/>'),
    # §14.3.5: a clipping path that is not there clips nothing; one does not clip another
    ('<path d="M0 0h1" clip-path="url(#no)"/>', '<path d="M0 0h1"/>'),
    (f'<clipPath id="c">{CLIPPED}</clipPath>{CLIPPED}',
     f'<clipPath id="c"><path d="M0 0h1"/></clipPath>{CLIPPED}'),
    # §11.5: what is hidden stays so, a gradient helps all the same
    (f'<rect width="7" height="7" display="none"/>{SAFE}', f'xmlns="{NAMESPACE[1:-1]}"><rect fill'),
    (f'<g visibility="hidden">{SAFE}</g>', '<g visibility="hidden">'),
    (f'<linearGradient id="a" display="none"/>{SAFE}', '<linearGradient id="a"/>'),
]  # fmt: skip


@pytest.mark.parametrize(("inner", "there"), KEPT)
def test_what_draws_is_kept_as_the_standard_means_it(inner, there):
    assert there in harmless(read_logo(svg(inner)).content)
    lawful(svg(inner))


# §7.7 and §7.10; CSS 2.1 §4.3.2: 1 in is 96 px, 72 pt, 2.54 cm, and 1 pc is 12 pt.
@pytest.mark.parametrize(
    ("head", "box", "ratio"),
    [
        ('viewBox="0 0 40 20"', "0 0 40 20", 2),
        ('viewBox="-5,-5 , 10 40" width="9" height="9"', "-5 -5 10 40", 0.25),
        ('width="40" height="20px"', "0 0 40 20", 2),
        ('width="1in" height="2.54cm"', "0 0 96 96", 1),
        ('width="72pt" height="25.4mm"', "0 0 96 96", 1),
        ('width="12pc" height="72pt"', "0 0 192 96", 2),
    ],
)
def test_the_size_is_in_the_drawings_own_units(head, box, ratio):
    logo = read_logo(svg(head=head))
    found = ET.fromstring(logo.content).attrib
    assert found["viewBox"] == box
    assert logo.width_ratio == ratio
    width, height = float(found["width"]), float(found["height"])
    assert width / height == pytest.approx(ratio, rel=0.001)
    assert (width, height) == (480, pytest.approx(480 / ratio)) or height == 160


def test_what_would_have_drawn_is_named_and_nothing_else_of_the_file():
    inner = f"<text>x</text><use/><g><image/><text/></g><script/><title/><hush/>{SAFE}"
    assert read_logo(svg(inner)).left_out == ("image", "text", "use")
    assert read_logo(TERN_SVG).left_out == ()


def test_a_mark_of_utf_8_and_a_declaration_do_no_harm():
    plain = read_logo(svg())
    assert read_logo(b"\xef\xbb\xbf" + svg()) == plain
    assert read_logo(svg(before='<?xml version="1.0" encoding="ISO-8859-1"?>\n')) == plain
    assert read_logo(b" \r\n\t" + svg()) == plain


def test_our_own_logo_is_whole_in_both_kinds():
    drawn, painted = read_logo(TERN_SVG), read_logo(TERN_PNG)
    assert (drawn.kind, painted.kind) == ("svg", "png")
    assert drawn.width_ratio == painted.width_ratio == 2.5
    shapes = re.findall(r"<(path|circle|stop)", TERN_SVG.decode())
    assert re.findall(r"<(path|circle|stop)", harmless(drawn.content)) == shapes
    lawful(TERN_SVG)
    lawful(TERN_PNG)


def test_a_logo_is_a_frozen_value():
    logo = read_logo(TERN_SVG)
    assert isinstance(logo, Logo)
    with pytest.raises(AttributeError):
        logo.kind = "png"


PIECES = st.sampled_from(
    [
        b"<svg", b"</svg>", b"<g>", b"</g>", b"<path", b"<script>", b"/>", b">", b" d='M0 0h9'",
        b" xmlns='http://www.w3.org/2000/svg'", b" viewBox='0 0 9 9'", b"<!DOCTYPE svg [", b"]>",
        b"&#0;", b"<![CDATA[", b"]]>", b"<!--", b"-->", b" onload='x'", b"<?x ?>", b"\xff",
    ]
)  # fmt: skip


@settings(deadline=None)
@given(st.binary(max_size=300) | st.lists(PIECES, max_size=20).map(b"".join))
def test_any_bytes_give_a_logo_or_one_error(content):
    lawful(content)


@settings(deadline=None)
@given(
    whole=st.sampled_from([TERN_SVG, TERN_PNG, svg(), png()]),
    at=st.integers(0, 6000),
    length=st.integers(0, 9),
    instead=st.binary(max_size=9),
)
def test_a_spoiled_file_gives_a_logo_or_one_error(whole, at, length, instead):
    at %= len(whole)
    lawful(whole[:at] + instead + whole[at + length :])


SAYINGS = (
    "url(#a)",
    "url(#b) red",
    "M0 0h9z",
    "0 0 9 9",
    "none",
    "fill:red;display:none",
    "a",
    "b",
)
VALUES = st.text(string.printable, max_size=9) | st.floats().map(str) | st.sampled_from(SAYINGS)
ATTRIBUTES = st.dictionaries(st.sampled_from([*sorted(NAMES), "style", "onload", "href"]), VALUES)
ELEMENT = st.sampled_from([*sorted(ELEMENTS), "script", "text", "use", "style"])


def element(draw_from):
    name, attributes, inner = draw_from
    made = ET.Element(NAMESPACE + name, attributes)
    made.extend(inner)
    made.text = "text" if attributes else None
    return made


TREES = st.recursive(
    st.tuples(ELEMENT, ATTRIBUTES, st.just(())).map(element),
    lambda inner: st.tuples(ELEMENT, ATTRIBUTES, st.lists(inner, max_size=4)).map(element),
    max_leaves=15,
)


@settings(deadline=None)
@given(inner=st.lists(TREES, max_size=4), attributes=ATTRIBUTES)
def test_any_elements_with_any_attributes_give_a_logo_or_one_error(inner, attributes):
    root = element(("svg", {"viewBox": "0 0 9 9"} | attributes, inner))
    root.append(ET.Element(NAMESPACE + "path", {"d": "M0 0h9v9"}))
    lawful(re.sub(rb"[\x00-\x08\x0b\x0c\x0e-\x1f]", b"", ET.tostring(root)))
