"""What a logo is once it is harmless, and the box that every logo is fitted into."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from agent.errors import LogoError

WIDTH_PX, HEIGHT_PX = 480, 160
"""The largest a logo is kept: three times the size it has on the page, for print."""

MOST_RATIO = 20.0
"""Times that one side may be as long as the other; a longer one would be a line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Logo:
    """A picture that shows shapes or pixels and can do nothing else.

    `width_ratio` is width by height. `left_out` names what the file has and the picture has not:
    elements of SVG that draw or colour and are not taken over, in the order of the alphabet.
    """

    kind: Literal["svg", "png"]
    content: bytes
    width_ratio: float
    left_out: tuple[str, ...] = ()


def refused(problem: str) -> LogoError:
    """Return the error that says why a logo is not shown."""
    return LogoError(problem=problem)


def ratio_of(width: float, height: float) -> float:
    """Return width by height; raises LogoError where that is no picture for a page."""
    if not (width > 0 and height > 0):
        raise refused("it has no area")
    ratio = width / height
    if not 1 / MOST_RATIO <= ratio <= MOST_RATIO:
        raise refused(f"one side is more than {MOST_RATIO:g} times as long as the other")
    return ratio


def box_factor(width: float, height: float) -> float:
    """Return by what a size is multiplied to touch the box from inside."""
    return min(WIDTH_PX / width, HEIGHT_PX / height)
