"""From stored records to the page that shows them side by side."""

from __future__ import annotations

import sys
from io import StringIO
from typing import TYPE_CHECKING

from agent.cli.faces import path_change
from agent.record.seal import redact

if TYPE_CHECKING:
    from collections.abc import Sequence

    from agent.record.model import StoredRecord
    from agent.sheet.comparison.model import Comparison
    from agent.sheet.view import Dress


def comparison_of(
    records: Sequence[StoredRecord], *, hide: bool, dress: Dress | None = None
) -> Comparison:
    """Return the page of records side by side, redacted if asked. Raises UsageError.

    Walks are compared first: redacted, each record has names of its own for one address.
    """
    from agent.sheet.comparison import build_comparison
    from agent.sheet.view import PLAIN

    path = path_change([one.record for one in records])
    shown = [redact(one) if hide else one for one in records]
    return build_comparison(shown, path, dress=dress or PLAIN)


def content(comparison: Comparison, face: str, paper: str) -> bytes:
    """Return the page as the bytes of a file. Raises PageError."""
    if face == "pdf":
        from agent.sheet.comparison.pdf import comparison_pdf

        return comparison_pdf(comparison, paper)
    if face == "html":
        from agent.sheet.comparison.html import comparison_html

        return comparison_html(comparison).encode()
    from agent.sheet.comparison.terminal import print_comparison
    from agent.sheet.terminal import NARROW, console_for

    text = StringIO()
    print_comparison(comparison, console_for(text, NARROW))
    return text.getvalue().encode()


def print_terminal(comparison: Comparison) -> None:
    """Print the page on standard output."""
    from agent.sheet.comparison.terminal import print_comparison
    from agent.sheet.terminal import console_for

    print_comparison(comparison, console_for(sys.stdout))
