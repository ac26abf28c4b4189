"""The error tree: every failure the user can meet, with fields and three plain sentences.

    DoorstepError                 1
    ├── UsageError                2   arguments that cannot be used
    ├── SettingsError             2   every fault of every settings file at once
    ├── MalformedMessage          1   bytes from outside that break their format
    ├── CannotMeasure             1   an attempt that could not be made; becomes a Reason
    ├── RecordError               1   a stored record that cannot be read or trusted
    ├── OutputError               1   a page or record that cannot be written
    ├── PracticeRefused           1   the practice network cannot be built here
    └── PracticeBroken            1   a part of the practice network does not start

A class states its sentences as templates over its fields: what happened, what it means, what to
do. Texts from outside only ever enter as field values, cleaned by `printable`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

FIELD_LENGTH = 300


def printable(value: object) -> str:
    """Return one line of harmless text for any value: no control characters, bounded length."""
    text = str(value)
    clean = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)
    return clean if len(clean) <= FIELD_LENGTH else clean[: FIELD_LENGTH - 1] + "…"


class DoorstepError(Exception):
    """The root of the tree; never raised itself."""

    code: ClassVar[str] = "error"
    exit_code: ClassVar[int] = 1
    what: ClassVar[str] = ""
    meaning: ClassVar[str] = ""
    action: ClassVar[str] = ""

    def __init__(self, **fields: object) -> None:
        self.fields = fields
        super().__init__(self.sentence())

    def sentence(self) -> str:
        """Return what happened, what it means and what to do, as one paragraph."""
        shown = {name: printable(value) for name, value in self.fields.items()}
        parts = (self.what, self.meaning, self.action)
        return " ".join(part.format(**shown) for part in parts if part)


class UsageError(DoorstepError):
    """Raised for arguments that contradict each other or name something that is not there."""

    code = "usage"
    exit_code = 2
    what = "{problem}"
    action = "{remedy}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One fault of the settings: where it stands, what was found, what is allowed.

    `place` is a file, an environment variable or the command line; `key` a key path as it would
    be written in TOML, empty where the whole file is meant; `line` counts from 1.
    """

    place: str
    key: str
    found: str
    allowed: str
    line: int | None = None

    def sentence(self) -> str:
        """Return the fault as one harmless line."""
        line = f", line {self.line}" if self.line is not None else ""
        key = f": {printable(self.key)}" if self.key else ""
        found, allowed = printable(self.found), printable(self.allowed)
        return f"{printable(self.place)}{line}{key}: found {found}; allowed: {allowed}"


class SettingsError(DoorstepError):
    """Raised when settings cannot be used; holds every fault of every file at once."""

    code = "settings"
    exit_code = 2
    what = "The settings cannot be used ({faults} to mend)."
    meaning = "Nothing was measured."
    action = "Mend what is listed, then try 'doorstep settings check'."

    def __init__(self, *, faults: tuple[Fault, ...]) -> None:
        self.faults = faults
        super().__init__(faults=len(faults))

    def sentence(self) -> str:
        """Return what happened and what to do, then one line for each fault."""
        lines = (f"  {fault.sentence()}" for fault in self.faults)
        return "\n".join((super().sentence(), *lines))


class MalformedMessage(DoorstepError):  # noqa: N818 - named for the thing, as the trade does
    """Raised by the codecs, and by nothing else, for bytes that break their format."""

    code = "malformed"
    what = "A {message} could not be read at byte {offset}: {problem}."
    meaning = "The other side sent something that does not follow its standard."


class OutputError(DoorstepError):
    """Raised when a record or page cannot be written where it was asked for."""

    code = "output"
    what = "Cannot write {path}: {problem}."
    meaning = "Nothing measured is lost: the record went to standard output."
    action = "Free space or choose another folder with --out."


class PageError(OutputError):
    """Raised when a face of the page cannot be drawn on this computer."""

    code = "page"
    what = "The {face} page cannot be made: {problem}."
    meaning = "The record itself is untouched."
    action = "Use another face of the page: --format html or --format terminal."


class LogoError(PageError):
    """Raised when a company's logo cannot be shown, or not safely."""

    code = "logo"
    what = "The company's logo cannot be shown: {problem}."
    meaning = "No page is made with it; the record itself is untouched."
    action = (
        "Save it as an SVG of plain shapes or as a PNG, or take identity.logo out of the settings."
    )


class PracticeRefused(DoorstepError):  # noqa: N818
    """Raised when this computer does not allow the practice network to be built."""

    code = "practice-refused"
    what = "The practice network cannot be built here: {problem}."
    meaning = "This system does not allow network namespaces to be made."
    action = "{remedy}"


class PracticeBroken(DoorstepError):  # noqa: N818
    """Raised when a part of the practice network does not start or ends by itself."""

    code = "practice-broken"
    what = "The practice network does not work: {problem}."
    meaning = "This says nothing about any line; no visit was made."
    action = "Try again, and look at what else uses this computer."


class SystemNotSupported(DoorstepError):  # noqa: N818
    """Raised where Doorstep has no engines for the operating system yet."""

    code = "system-not-supported"
    what = "Doorstep cannot measure on {system} yet."
    meaning = "Its engines for this system are not written, and it does not guess."
    action = "Use a laptop with Linux; records can be read, shown and verified on any system."


class CannotMeasure(DoorstepError):  # noqa: N818
    """The root of everything that keeps one attempt from being made; becomes a `Reason`."""

    code = "cannot-measure"


class RightMissing(CannotMeasure):
    """Raised when the operating system refuses for want of a privilege."""

    code = "right-missing"
    what = "The right {right} is missing for {purpose}."
    action = "Run with sudo, or leave this measurement out."


class NoInterface(CannotMeasure):
    """Raised when the named interface, or any usable one, does not exist."""

    code = "no-interface"
    what = "There is no network interface {interface}."
    meaning = "Nothing can be measured through a port that is not there."
    action = "Check the adapter, or name another with --interface."


class InterfaceDown(CannotMeasure):
    """Raised when the interface exists and has no link."""

    code = "interface-down"
    what = "The port {interface} has no link."
    meaning = "No signal arrives on the cable."
    action = "Check the cable and the socket at both ends, then run again."


class NoAddress(CannotMeasure):
    """Raised when the interface holds no usable address."""

    code = "no-address"
    what = "The port {interface} has no usable address."
    meaning = "Nothing gave this laptop an address."


class NoRoute(CannotMeasure):
    """Raised when the system has no way to the address."""

    code = "no-route"
    what = "There is no route to {address}."
    meaning = "The laptop does not know where to send this."


class NotTaken(CannotMeasure):
    """Raised when the system does not take a packet, for a reason of its own."""

    code = "not-taken"
    what = "This laptop did not send to {address}: {problem}."
    meaning = "The packet never reached the line."


class TooLarge(CannotMeasure):
    """Raised when a packet is larger than what the port takes in one piece."""

    code = "too-large"
    what = "A packet to {address} is larger than the port takes."


class MeansNotWritten(CannotMeasure):
    """Raised where a way of probing has no engine for the operating system."""

    code = "means-not-written"
    what = "Probing by {means} is not written for {system}."
    meaning = "Nothing was sent by it; other means serve on this system."


class NameNotResolved(CannotMeasure):
    """Raised when no resolver gave an address for a name."""

    code = "name-not-resolved"
    what = "The name {name} could not be looked up: {problem}."
    meaning = "No resolver of this line gave its address."


class Refused(CannotMeasure):
    """Raised when the far end actively refuses."""

    code = "refused"
    what = "{address} refused the connection."
    meaning = "Something answers there, but not this service."


class TimedOut(CannotMeasure):
    """Raised when nothing came within the stated time."""

    code = "timed-out"
    what = "{address} did not answer within {after_s} s."


class ClosedEarly(CannotMeasure):
    """Raised when the far end ends a transfer before its time."""

    code = "closed-early"
    what = "{address} closed the connection after {bytes} bytes."


class BadReply(CannotMeasure):
    """Raised when the far end answers something that is not its protocol or not allowed."""

    code = "bad-reply"
    what = "{address} gave an answer that cannot be used: {problem}."


class TlsFault(CannotMeasure):
    """Raised when a certificate or TLS handshake fails; `kind` says what a certificate has."""

    code = "tls-fault"
    what = "The secure connection to {address} failed: {problem}."


class ServerBusy(CannotMeasure):
    """Raised when the operator's server asks to wait rather than spoil a measurement."""

    code = "server-busy"
    what = "The server at {address} is busy and asks to wait {wait_s} s."


class ProberFailed(CannotMeasure):
    """Raised when the process that times the loaded line does not start or does not answer."""

    code = "prober-failed"
    what = "The process that times the line under load failed: {problem}."
    meaning = "Delay under load was not measured; everything else stands."


class RecordError(DoorstepError):
    """Raised when a stored record cannot be read or is not what it claims to be."""

    code = "record"
    what = "The record {path} cannot be used: {problem}."
    action = "{remedy}"


class NewerRecordError(RecordError):
    """Raised when a record was written by a newer program in a form that this one does not know."""

    code = "record-newer"
