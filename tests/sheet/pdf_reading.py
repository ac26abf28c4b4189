"""What a program reads out of a PDF: its text along the structure tree, its tags, its letters.

After ISO 32000-1: content streams 7.8, marked content 14.6, structure 14.7, ToUnicode 9.10.3.
"""

import io
import re
from dataclasses import dataclass, field

import pikepdf

PAINTING = {"f", "F", "f*", "B", "B*", "b", "b*", "S", "s", "sh", "Do", "Tj", "TJ", "'", '"'}


def opened(pdf):
    return pikepdf.open(io.BytesIO(pdf))


def without_space(text):
    return re.sub(r"\s", "", text)


@dataclass
class Element:
    """One element of the structure tree with the text below it."""

    kind: str
    parents: tuple
    item: object
    text: str


@dataclass
class Marked:
    """What one page draws: texts by marked content, and what stands outside of any mark."""

    texts: dict = field(default_factory=dict)
    outside: list = field(default_factory=list)


def letters(font):
    """Return the letters of a font's codes, of two bytes each."""
    source = font.ToUnicode.read_bytes().decode("latin-1")
    made = {}
    for block in re.findall(r"beginbfchar(.*?)endbfchar", source, re.DOTALL):
        for code, text in re.findall(r"<(\w+)>\s*<(\w+)>", block):
            made[int(code, 16)] = bytes.fromhex(text).decode("utf-16-be")
    for block in re.findall(r"beginbfrange(.*?)endbfrange", source, re.DOTALL):
        for low, high, text in re.findall(r"<(\w+)>\s*<(\w+)>\s*<(\w+)>", block):
            first = ord(bytes.fromhex(text).decode("utf-16-be"))
            for code in range(int(low, 16), int(high, 16) + 1):
                made[code] = chr(first + code - int(low, 16))
    return made


def marked(page):
    """Return what a page draws, by its marks."""
    found, stack, font = Marked(), [], {}
    made = {name: letters(one) for name, one in page.Resources.get("/Font", {}).items()}
    for operands, operator in pikepdf.parse_content_stream(page):
        name = str(operator)
        if name in {"BDC", "BMC"}:
            stack.append(_mark(operands))
            _say(found, stack[:-1], stack[-1].get("actual", ""))
        elif name == "EMC":
            stack.pop()
        elif name == "Tf":
            font = made[operands[0]]
        if name not in PAINTING:
            continue
        if not any({"mcid", "artifact"} & one.keys() for one in stack):
            found.outside.append(name)
        if name in {"Tj", "TJ"} and not any("actual" in one for one in stack):
            _say(found, stack, _shown(operands[0], font))
    return found


def _mark(operands):
    told = operands[1] if len(operands) > 1 and isinstance(operands[1], pikepdf.Dictionary) else {}
    mark = {"artifact": True} if operands[0] == "/Artifact" else {}
    if "/MCID" in told:
        mark["mcid"] = int(told["/MCID"])
    if "/ActualText" in told:
        mark["actual"] = str(told["/ActualText"])
    return mark


def _say(found, stack, text):
    for one in reversed(stack):
        if "mcid" in one:
            found.texts[one["mcid"]] = found.texts.get(one["mcid"], "") + text
            return


def _shown(operand, font):
    parts = operand if isinstance(operand, pikepdf.Array) else [operand]
    raw = b"".join(bytes(part) for part in parts if isinstance(part, pikepdf.String))
    codes = (raw[at] * 256 + raw[at + 1] for at in range(0, len(raw) - 1, 2))
    return "".join(font.get(code, "") for code in codes)


def elements(pdf):
    """Return every element of the structure tree, in reading order."""
    by_page = {page.obj.objgen: marked(page).texts for page in pdf.pages}
    made = []

    def walk(item, parents, page):
        page = item.get("/Pg", page)
        place = len(made)
        kind = str(item.S)[1:]
        made.append(None)
        text = "".join(told(kid, (*parents, kind), page) for kid in kids(item))
        made[place] = Element(kind, parents, item, text)
        return text

    def told(kid, parents, page):
        if isinstance(kid, int):
            return by_page[page.objgen].get(kid, "") + " "
        if kid.get("/Type") == "/MCR":
            return by_page[kid.get("/Pg", page).objgen].get(int(kid.MCID), "") + " "
        return walk(kid, parents, page)

    for kid in kids(pdf.Root.StructTreeRoot):
        walk(kid, (), None)
    return made


def kids(item):
    """Return what stands directly below an element."""
    found = item.get("/K", [])
    return list(found) if isinstance(found, pikepdf.Array) else [found]
