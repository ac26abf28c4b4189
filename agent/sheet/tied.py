"""Terminal text that breaks at plain spaces only, so that a number keeps its unit beside it."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING

from rich.cells import cell_len
from rich.text import Text

if TYPE_CHECKING:
    from rich.console import Console, JustifyMethod, OverflowMethod
    from rich.containers import Lines


class Tied(Text):
    """A text of one style; the terminal library itself would break at no-break spaces too."""

    def wrap(
        self,
        console: Console,
        width: int,
        *,
        justify: JustifyMethod | None = None,
        overflow: OverflowMethod | None = None,
        tab_size: int = 8,
        no_wrap: bool | None = None,
    ) -> Lines:
        """Return the lines at a width in cells."""
        text = Text(self._broken(width), self.style) if cell_len(self.plain) > width else self
        return Text.wrap(
            text,
            console,
            width,
            justify=justify or self.justify,
            overflow=overflow or self.overflow,
            tab_size=tab_size,
            no_wrap=self.no_wrap if no_wrap is None else no_wrap,
        )

    def _broken(self, width: int) -> str:
        """Return the text with its line ends; letters of two cells are left to the library."""
        if cell_len(self.plain) != len(self.plain) or self.no_wrap:
            return self.plain
        return "\n".join(
            "\n".join(wrap(line, width, replace_whitespace=False, break_on_hyphens=False))
            for line in self.plain.split("\n")
        )
