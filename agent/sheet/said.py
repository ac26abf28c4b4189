"""Values that a sentence words rather than prints, by their name; and findings that ask nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from agent.record import Scalar
from agent.sheet.catalogue import values

NOTES = frozenset({"second-router", "shared-address", "carrier-translation"})
"""Findings that leave nothing to do."""

# RFC 1035 §4.1.1, with the names that IANA's registry of response codes has for them.
_RCODE = {1: "FORMERR", 2: "SERVFAIL", 4: "NOTIMP", 5: "REFUSED"}
_SPANS = (
    (31_557_600, "years"),
    (86_400, "days"),
    (3_600, "hours"),
    (60, "minutes"),
    (1, "seconds"),
)


def _time(seconds: float) -> str:
    """Return a time in a unit that suits it: from two of a unit on, else the next smaller one."""
    size = abs(seconds)
    unit_s, name = next((span for span in _SPANS if size >= 2 * span[0]), _SPANS[-1])
    return values.TIME[name].format(count=f"{size / unit_s:.0f}")


def _is_number(value: Scalar) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _apart(seconds: Scalar) -> str:
    return _time(float(seconds or 0)) if _is_number(seconds) else values.TIME_UNKNOWN


def _off(seconds: Scalar) -> str:
    if not _is_number(seconds):
        return values.CLOCK_OFF
    off = float(seconds or 0)
    return (values.CLOCK_FAST if off > 0 else values.CLOCK_SLOW).format(time=_time(off))


def _arises(segment: Scalar) -> str:
    return values.ARISES.get(str(segment), values.ARISES_UNKNOWN)


def _after(address: Scalar) -> str:
    return values.VANISH_AFTER.format(address=address) if address else values.VANISH_UNKNOWN


def _rcode(code: Scalar) -> Scalar:
    if not isinstance(code, int):
        return code
    return _RCODE.get(int(code), values.CODE.format(code=int(code)))


def _extended_error(code: Scalar) -> Scalar:
    if not isinstance(code, int):
        return ""
    other = values.EXTENDED_ERROR_OTHER.format(code=code)
    return f" ({values.EXTENDED_ERROR.get(code, other)})"


def _trouble(code: Scalar) -> Scalar:
    return values.TROUBLE.get(str(code), code)


def _certificate_has(problem: Scalar) -> Scalar:
    if not problem:
        return ""
    return f" ({values.CERTIFICATE_HAS.get(str(problem), values.CERTIFICATE_HAS_OTHER)})"


def _certificate(fault: Scalar) -> str:
    return values.CERTIFICATE.get(str(fault), values.CERTIFICATE_OTHER)


def _portal(host: Scalar) -> Scalar:
    return host or values.PORTAL_UNNAMED


def _fate(code: Scalar) -> Scalar:
    return values.FATE.get(str(code), code)


SAID: Mapping[str, Callable[[Scalar], Scalar]] = {
    "apart_s": _apart,
    "arises": _arises,
    "certificate": _certificate,
    "certificate_has": _certificate_has,
    "extended_error": _extended_error,
    "off_s": _off,
    "port_fate": _fate,
    "portal": _portal,
    "rcode": _rcode,
    "trouble": _trouble,
    "vanish_after": _after,
}
