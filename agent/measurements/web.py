"""One web target: every attempt with its phases as W3C Resource Timing separates them."""

from __future__ import annotations

from dataclasses import dataclass

CERTIFICATE_FAULTS = (
    "expired",
    "not-yet-valid",
    "wrong-name",
    "self-signed",
    "unknown-issuer",
    "other",
)
"""The kinds of what can be wrong with a certificate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """The certificate shown: `valid` after full checking, dates as RFC 3339.

    `fault` is one of CERTIFICATE_FAULTS, `problem` the words of the TLS library.
    """

    valid: bool
    problem: str | None = None
    subject: str | None = None
    issuer: str | None = None
    begins: str | None = None
    expires: str | None = None
    fault: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WebAttempt:
    """One fetch; phases in milliseconds, None where the phase was not reached.

    `redirect_ms` is what a redirect from http to https of the same host took before the page's own
    phases; `total_ms` holds both. `problem` is the reason code when no complete answer came;
    `redirected_to` the target of a redirect that was answered; `marker_found` whether the expected
    text stood in the body, `unchanged` whether the whole body was the expected one.

    `date` is the answer's Date (RFC 9110 §6.6.1), older by `age_s` where a cache says so; `clock`
    the laptop's wall time when the answer had come, both RFC 3339. `via` names what relayed the
    answer (RFC 9110 §7.6.3). `title` and `asks_sign_in` are of a page that came in place of the
    expected one.
    """

    sent_s: float
    lookup_ms: float | None = None
    connect_ms: float | None = None
    tls_ms: float | None = None
    first_byte_ms: float | None = None
    transfer_ms: float | None = None
    redirect_ms: float | None = None
    total_ms: float | None = None
    status: int | None = None
    bytes: int | None = None
    remote: str | None = None
    redirected_to: str | None = None
    marker_found: bool | None = None
    unchanged: bool | None = None
    problem: str | None = None
    certificate: Certificate | None = None
    date: str | None = None
    age_s: int | None = None
    clock: str | None = None
    via: str | None = None
    title: str | None = None
    asks_sign_in: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WebFetch:
    """Every attempt on one target of the settings.

    `marker` says whether a text was expected, `fixed` whether the very body was.
    """

    target: str
    url: str
    marker: bool = False
    attempts: tuple[WebAttempt, ...] = ()
    fixed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ProxySetting:
    """A proxy that programs of this laptop are told to use; `address` without any password.

    `told_by` is "environment" or "system", `scheme` that of the URLs it is for.
    """

    scheme: str
    address: str
    told_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PortalAnswer:
    """What the captive portal API of the network said (RFC 8908 §5), or why nothing.

    `told_by` is who named the API: "settings", "dhcp" or "router" (RFC 8910). Sessions that end
    give seconds or bytes; None is no limit, or not told.
    """

    url: str
    told_by: str
    captive: bool | None = None
    user_portal_url: str | None = None
    venue_info_url: str | None = None
    can_extend_session: bool | None = None
    seconds_remaining: int | None = None
    bytes_remaining: int | None = None
    status: int | None = None
    total_ms: float | None = None
    problem: str | None = None
    certificate: Certificate | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WebAccess:
    """How the network and this laptop let programs out to the web.

    `portal` is None where no captive portal API is known. The pages are fetched without the
    proxies named here.
    """

    proxies: tuple[ProxySetting, ...]
    portal: PortalAnswer | None = None
