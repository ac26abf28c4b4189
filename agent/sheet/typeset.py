"""The typesetter, a process of its own: an order on standard input, a PDF on standard output.

What typst holds of fonts and pages, some 80 MB, is gone with it, so that a visit stays small.
"""

from __future__ import annotations

import json
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from typst import Compiler

TEMPLATES = Path(__file__).parent
# ISO 19005-2 level A, the page still opens when today's programs are gone; and ISO 14289-1, it can
# be read aloud in its order.
STANDARDS: Final = ("a-2a", "ua-1")
REFUSED = 3
"""Exit status where no page could be made; standard error then says why in one line."""


def typeset(template: str, inputs: dict[str, str], at: datetime) -> bytes:
    """Return a template of this folder filled with the inputs as PDF, dated `at`.

    Raises ImportError without typst, RuntimeError where it refuses.
    """
    from typst import TypstError  # noqa: PLC0415 - where it is missing, that is the answer

    compiler = _compiler(template)
    try:
        pages = compiler.compile(
            format="pdf", sys_inputs=inputs, pdf_standards=list(STANDARDS), timestamp=at
        )
    except TypstError:
        # PDF/A forbids a letter that no embedded face has; the page then does without the level.
        told = inputs | {"unshaped": "yes"}
        pages = compiler.compile(format="pdf", sys_inputs=told, timestamp=at)
    return pages if isinstance(pages, bytes) else b"".join(pages or [])


def _compiler(template: str) -> Compiler:
    from typst import Compiler  # noqa: PLC0415 - as above

    return Compiler(
        input=str(TEMPLATES / f"{template}.typ"),
        root=str(TEMPLATES),
        font_paths=_font_folders(),
        ignore_system_fonts=True,
    )


def _font_folders() -> list[str]:
    """Return the folder of the embedded sans; without it the built-in faces serve."""
    try:
        from font_source_sans_pro import font_directory  # noqa: PLC0415 - as above
    except ImportError:
        return []
    return [str(font_directory)]


def main() -> int:
    """Serve one order."""
    order = json.load(sys.stdin.buffer)
    try:
        page = typeset(order["template"], order["inputs"], datetime.fromisoformat(order["at"]))
    except (ImportError, RuntimeError) as error:
        sys.stderr.buffer.write(f"{error}\n".encode(errors="replace"))
        return REFUSED
    sys.stdout.buffer.write(page)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
