"""Elements of an SVG as they are read and as they are written: bounded, with no text in them."""

from __future__ import annotations

import html
from collections.abc import Iterator
from dataclasses import dataclass, field

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import DefusedXMLParser, ParseError

from agent.sheet.logos.model import refused

SVG = "http://www.w3.org/2000/svg"
MOST_DEEP = 32
MOST_ELEMENTS = 1_000


@dataclass(slots=True, kw_only=True)
class Element:
    """An element: its name, "" for one that is not SVG's, its attributes, what stands in it."""

    name: str
    attributes: dict[str, str]
    inside: list[Element] = field(default_factory=list)

    def walked(self) -> Iterator[Element]:
        """Yield the element and all that stands in it, in the order of the file."""
        yield self
        for inner in self.inside:
            yield from inner.walked()

    def written(self) -> str:
        """Return the element as XML, its attributes in the order of the alphabet."""
        said = "".join(f' {k}="{html.escape(v)}"' for k, v in sorted(self.attributes.items()))
        inner = "".join(one.written() for one in self.inside)
        return f"<{self.name}{said}>{inner}</{self.name}>" if inner else f"<{self.name}{said}/>"


class _Builder:
    """Takes elements as the parser meets them; stops it where there are too many."""

    def __init__(self) -> None:
        self._root = Element(name="", attributes={})
        self._open = [self._root]
        self._count = 0

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        """Begin an element; `tag` is `{namespace}name`."""
        self._count += 1
        if self._count > MOST_ELEMENTS:
            raise refused(f"the SVG has more than {MOST_ELEMENTS} elements")
        if len(self._open) > MOST_DEEP:
            raise refused(f"the SVG has groups more than {MOST_DEEP} deep")
        namespace, _, name = tag.rpartition("}")
        element = Element(name=name if namespace == f"{{{SVG}" else "", attributes=attributes)
        self._open[-1].inside.append(element)
        self._open.append(element)

    def end(self, tag: str) -> None:  # noqa: ARG002 - the parser has compared it with the start
        """End the element that was begun last."""
        self._open.pop()

    def outermost(self) -> Element:
        """Return the element that holds all others."""
        return self._root.inside[0]


def parsed(content: bytes) -> Element:
    """Return the outermost element of an XML document in UTF-8.

    Raises LogoError where it is no XML, has a document type (so that no entity can be told), or
    too many elements.
    """
    # What the file says of its encoding is not asked: another would only hide what it holds. The
    # parser still takes zeros between letters for UTF-16.
    if b"\0" in content:
        raise refused("the SVG is no text in UTF-8")
    builder = _Builder()
    parser = DefusedXMLParser(target=builder, encoding="utf-8", forbid_dtd=True)
    try:
        parser.feed(content)
        parser.close()
    except DefusedXmlException as error:
        raise refused("the SVG has a document type (DOCTYPE), and none is read") from error
    except ParseError as error:
        raise refused(f"the SVG is no sound XML in UTF-8: {error}") from error
    return builder.outermost()
