"""One web target: every attempt with its phases as W3C Resource Timing separates them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """The certificate shown: `valid` after full checking, dates as RFC 3339."""

    valid: bool
    problem: str | None = None
    subject: str | None = None
    issuer: str | None = None
    begins: str | None = None
    expires: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WebAttempt:
    """One fetch; phases in milliseconds, None where the phase was not reached.

    `problem` is the reason code when no complete answer came; `redirected_to` the target of a
    redirect that was answered; `marker_found` whether the expected text stood in the body.
    """

    sent_s: float
    lookup_ms: float | None = None
    connect_ms: float | None = None
    tls_ms: float | None = None
    first_byte_ms: float | None = None
    total_ms: float | None = None
    status: int | None = None
    bytes: int | None = None
    remote: str | None = None
    redirected_to: str | None = None
    marker_found: bool | None = None
    problem: str | None = None
    certificate: Certificate | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WebFetch:
    """Every attempt on one target of the settings; `marker` says whether a text was expected."""

    target: str
    url: str
    marker: bool = False
    attempts: tuple[WebAttempt, ...] = ()
