"""Another product's rates on the line: what a mistake in the operator's records carries."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Product:
    """A product of the catalogue as the network would be set to it, bit/s at the frame layer."""

    name: str
    down_bps: int
    up_bps: int


def lower(products: Sequence[Product], steps: int) -> Product | None:
    """Return the product so many steps down, the lowest where there are fewer.

    `products` are those below the line's own, highest first; None where there is none.
    """
    return products[min(steps, len(products)) - 1] if products else None
