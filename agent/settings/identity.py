"""What a company says of itself, value by value: its picture, its line, its language, its paper."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field

LANGUAGES = ("en", "de")
"""Languages that the sheet is written in; the sheet holds their words and a test compares."""


def _any_case(words: tuple[str, ...]) -> str:
    """Return a pattern of JSON Schema, which knows no flags, for words in any case."""
    return "|".join("".join(f"[{c.upper()}{c}]" for c in word) for word in words)


def _usual_case(tag: str) -> str:
    """Return a tag as RFC 5646 §2.1.1 writes one: language small, region in capitals."""
    language, dash, region = tag.partition("-")
    return f"{language.lower()}{dash}{region.upper()}"


LanguageTag = Annotated[
    str,
    Field(
        pattern=rf"^({_any_case(LANGUAGES)})(-([A-Za-z]{{2}}|[0-9]{{3}}))?$",
        description=" or ".join(f'"{tag}"' for tag in LANGUAGES)
        + ', if need be with a region, such as "en-GB" or "de-AT"',
    ),
    AfterValidator(_usual_case),
]
"""Language and region of BCP 47 (RFC 5646 §2.2.1 and §2.2.4)."""

Paper = Literal["a4", "letter"]

PICTURE = rf"^[^\x00]{{1,1000}}\.({_any_case(('svg', 'png'))})$"
PICTURE_WANTED = "the path of an SVG or PNG file, from the folder of the settings file"
PictureFile = Annotated[str, Field(pattern=PICTURE, description=PICTURE_WANTED)]

OneLine = Annotated[
    str,
    Field(
        min_length=1,
        max_length=120,
        pattern=r"^[^\x00-\x1f\x7f-\x9f\u2028\u2029]*$",
        description="one line of 1 to 120 characters",
    ),
]
"""No control characters (Unicode's Cc), and neither of its own line ends."""
