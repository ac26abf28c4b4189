"""Which elements a drawing is made of, what may stand in each, and which attributes it keeps.

Sections are those of the W3C's SVG 1.1 (Second Edition). Anything that has no row here is left
out, together with all that stands in it.
"""

from __future__ import annotations

from collections.abc import Mapping

from agent.sheet.logos import values
from agent.sheet.logos.values import Rule

SHAPES: Mapping[str, tuple[str, ...]] = {
    "path": ("d",),
    "rect": ("width", "height"),
    "circle": ("r",),
    "ellipse": ("rx", "ry"),
    "line": (),
    "polyline": ("points",),
    "polygon": ("points",),
}
"""The shapes (§8, §9), and without which attributes each draws nothing."""

GRADIENTS = ("linearGradient", "radialGradient")
_MADE = (*GRADIENTS, "clipPath")
_DRAWN = (*SHAPES, "g", "defs", *_MADE)

INSIDE: Mapping[str, tuple[str, ...]] = {
    "svg": _DRAWN,
    "g": _DRAWN,
    "defs": _MADE,
    "clipPath": tuple(SHAPES),
    **dict.fromkeys(GRADIENTS, ("stop",)),
}
"""What may stand in an element: no drawing in a drawing, no group in a clipping path (§14.3.5)."""

MISSED = frozenset(
    {
        "a",
        "filter",
        "foreignObject",
        "image",
        "marker",
        "mask",
        "pattern",
        "style",
        "svg",
        "switch",
        "symbol",
        "text",
        "use",
    }
)
"""What would have drawn or coloured something: the maker of the file should hear of it."""

_share = values.length
_hidden = values.word("visible", "hidden", "collapse")
_rule = values.word("nonzero", "evenodd")
_units = values.word("userSpaceOnUse", "objectBoundingBox")

STYLE: dict[str, Rule] = {
    "clip-path": values.clip,
    "clip-rule": _rule,
    "color": values.colour,
    "fill": values.paint,
    "fill-opacity": _share,
    "fill-rule": _rule,
    "opacity": _share,
    "stroke": values.paint,
    "stroke-linecap": values.word("butt", "round", "square"),
    "stroke-linejoin": values.word("miter", "round", "bevel"),
    "stroke-miterlimit": _share,
    "stroke-opacity": _share,
    "stroke-width": values.length,
    "visibility": _hidden,
}
"""Presentation attributes (§6.1) of what is drawn."""

STOP_STYLE: dict[str, Rule] = {"stop-color": values.colour, "stop-opacity": _share}
PLACED: dict[str, Rule] = {"transform": values.transform}
FOUND: dict[str, Rule] = {"id": values.identifier}


def _lengths(names: str) -> dict[str, Rule]:
    return dict.fromkeys(names.split(), values.length)


# Without spreadMethod: a repeated gradient is a program in a PDF, which ISO 19005-2 forbids.
_GRADIENT: dict[str, Rule] = {
    **FOUND,
    "gradientTransform": values.transform,
    "gradientUnits": _units,
}

OWN: Mapping[str, dict[str, Rule]] = {
    "svg": {},
    "g": PLACED,
    "defs": {},
    "path": PLACED | {"d": values.path},
    "rect": PLACED | _lengths("x y width height rx ry"),
    "circle": PLACED | _lengths("cx cy r"),
    "ellipse": PLACED | _lengths("cx cy rx ry"),
    "line": PLACED | _lengths("x1 y1 x2 y2"),
    "polyline": PLACED | {"points": values.points},
    "polygon": PLACED | {"points": values.points},
    "linearGradient": _GRADIENT | _lengths("x1 y1 x2 y2"),
    "radialGradient": _GRADIENT | _lengths("cx cy r fx fy"),
    "stop": _lengths("offset"),
    "clipPath": FOUND | PLACED | {"clipPathUnits": _units},
}
"""Attributes of each element beside those of style."""


def styles_of(name: str) -> dict[str, Rule]:
    """Return the presentation attributes that an element keeps."""
    if name == "stop":
        return STOP_STYLE
    if name == "clipPath":
        return {"clip-rule": STYLE["clip-rule"]}
    return STYLE if name in SHAPES or name in {"svg", "g"} else {}
