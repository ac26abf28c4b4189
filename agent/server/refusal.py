"""The one way a request is refused: a status, a code and, where it helps, a time to wait."""

from __future__ import annotations

import math

from agent.codec.card import Refusal
from agent.errors import DoorstepError


class RefusedRequest(DoorstepError):  # noqa: N818 - named for what happened
    """Raised by whatever part of the server will not serve a request; becomes its answer."""

    code = "refused-request"
    what = "A request was refused: {status} {reason}."

    def __init__(
        self,
        status: int,
        reason: str,
        *,
        wait_s: float | None = None,
        headers: tuple[tuple[str, str], ...] = (),
    ) -> None:
        self.status = status
        self.headers = headers if wait_s is None else (*headers, _retry_after(wait_s))
        self.refusal = Refusal(code=reason, wait_s=wait_s)
        super().__init__(status=status, reason=reason)


def _retry_after(wait_s: float) -> tuple[str, str]:
    return "Retry-After", str(max(1, math.ceil(wait_s)))
