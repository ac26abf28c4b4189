"""An SVG made anew from what is known to do nothing but draw.

Sections are those of the W3C's SVG 1.1 (Second Edition).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from agent.sheet.logos import values
from agent.sheet.logos.model import Logo, box_factor, ratio_of, refused
from agent.sheet.logos.rules import GRADIENTS, INSIDE, MISSED, OWN, SHAPES, styles_of
from agent.sheet.logos.tree import SVG, Element, parsed

MOST_BYTES = 64_000
MOST_RESULT = 24_000
MOST_STOPS = 32
MOST_CLIPPED = 50
"""Uses of clipping paths, each of which draws all that stands in one."""

HREF = ("href", "{http://www.w3.org/1999/xlink}href")
HREF_STEPS = 4

LEADS_TO: Mapping[str, tuple[str, ...]] = {
    "fill": GRADIENTS,
    "stroke": GRADIENTS,
    "clip-path": ("clipPath",),
}

Named = Mapping[str, Element]


def clean_svg(content: bytes) -> Logo:
    """Return an SVG with the same shapes, of the size of the box, and nothing else in it.

    Raises LogoError where the file is too large, no SVG, says not how large it is, or holds no
    shape.
    """
    if len(content) > MOST_BYTES:
        raise refused(f"the SVG has more than {MOST_BYTES // 1000} kB")
    raw = parsed(content)
    if raw.name != "svg":
        raise refused("the file is XML, but no SVG")
    box = _view_box(raw)
    ratio = ratio_of(*box[2:])
    root = _cleaned(raw, _named(raw))
    _unlink(root)
    if not _draws(root):
        raise refused("nothing in the SVG is a shape that can be shown")
    root.attributes |= {"xmlns": SVG, **_size(box)}
    written = root.written().encode()
    if len(written) > MOST_RESULT:
        raise refused(f"the shapes of the SVG need more than {MOST_RESULT // 1000} kB")
    return Logo(kind="svg", content=written, width_ratio=ratio, left_out=_left_out(raw))


def _view_box(raw: Element) -> list[float]:
    """Return left, top, width and height in the drawing's own units, nine digits of each.

    §7.7: `viewBox`; without one, `width` and `height` are in the drawing's own units (§7.2).
    """
    said = raw.attributes
    if "viewBox" in said:
        box = values.numbers(said["viewBox"])
    else:
        sides = (values.size(said.get(name, "")) for name in ("width", "height"))
        box = [0.0, 0.0, *(side for side in sides if side is not None)]
    if box is None or len(box) != 4:
        raise refused("the SVG does not say how large it is (viewBox, or width and height)")
    return [float(f"{number:.9g}") for number in box]


def _size(box: list[float]) -> dict[str, str]:
    factor = box_factor(*box[2:])
    width, height = (f"{side * factor:.2f}" for side in box[2:])
    shown = " ".join(f"{number:.9g}" for number in box)
    return {"viewBox": shown, "width": width, "height": height}


def _named(raw: Element) -> Named:
    """Return the elements that have an identifier; of two with the same the first is meant."""
    return {one.attributes.get("id", ""): one for one in reversed([*raw.walked()])}


def _cleaned(raw: Element, named: Named) -> Element:
    """Return an element with what may stand in it, attributes by their rules."""
    allowed = INSIDE.get(raw.name, ())
    shown = (one for one in _inside(raw, named) if one.name in allowed and not _hidden(one))
    inside = [_cleaned(one, named) for one in shown]
    if raw.name == "clipPath":
        for one in inside:
            # One path that clips another, and so on, would draw many times as much at each step.
            one.attributes.pop("clip-path", None)
    kept = [one for one in inside if not _empty(one)]
    return Element(name=raw.name, attributes=dict(_attributes(raw)), inside=kept)


def _inside(raw: Element, named: Named) -> list[Element]:
    """Return what stands in an element; of a gradient the stops, which may be another's (§13.2)."""
    if raw.name not in GRADIENTS:
        return raw.inside
    here: Element | None = raw
    for _ in range(HREF_STEPS):
        if here is None or any(one.name == "stop" for one in here.inside):
            break
        aim = next((here.attributes[name] for name in HREF if name in here.attributes), "")
        here = named.get(aim.removeprefix("#")) if aim.startswith("#") else None
    return here.inside[:MOST_STOPS] if here else []


def _hidden(raw: Element) -> bool:
    """Return whether something drawn is not to be shown (§11.5)."""
    said = {"display": raw.attributes.get("display", "").strip(), **_declared(raw)}
    return raw.name in {*SHAPES, "g"} and said["display"] == "none"


def _empty(clean: Element) -> bool:
    if clean.name in SHAPES:
        return any(name not in clean.attributes for name in SHAPES[clean.name])
    return clean.name in {"g", "defs"} and not clean.inside


def _attributes(raw: Element) -> Iterator[tuple[str, str]]:
    """Yield the attributes that an element keeps; a style says more than an attribute (§6.4)."""
    styles, declared = styles_of(raw.name), _declared(raw)
    for name, rule in (styles | OWN[raw.name]).items():
        value = declared[name] if name in styles and name in declared else raw.attributes.get(name)
        kept = rule(value) if value is not None else None
        if kept is not None:
            yield name, kept


def _declared(raw: Element) -> dict[str, str]:
    """Return the declarations of a style attribute (§6.7), as far as they are simple."""
    parts = (part.partition(":") for part in raw.attributes.get("style", "").split(";"))
    return {name.strip().lower(): said.partition("!")[0].strip() for name, _, said in parts}


def _unlink(root: Element) -> None:
    """Take out of a clean drawing what leads to nothing in it; raises LogoError for a bomb."""
    kinds = {name: one.name for name, one in _named(root).items()}
    clipped = 0
    for one in root.walked():
        for name, aims in LEADS_TO.items():
            value = one.attributes.get(name, "")
            aim = values.linked(value)
            if aim is not None and kinds.get(aim) not in aims:
                one.attributes[name] = values.stand_in(value)
        if not one.attributes.get("clip-path", "none"):
            del one.attributes["clip-path"]
        clipped += "clip-path" in one.attributes
    if clipped > MOST_CLIPPED:
        raise refused(f"the SVG is clipped more than {MOST_CLIPPED} times")


def _draws(clean: Element) -> bool:
    return any(one.name in SHAPES or (one.name == "g" and _draws(one)) for one in clean.inside)


def _left_out(raw: Element) -> tuple[str, ...]:
    inner = (name for one in raw.inside for name in (e.name for e in one.walked()))
    return tuple(sorted(MISSED.intersection(inner)))
