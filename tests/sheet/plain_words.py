"""What every sentence for a customer keeps to, whatever its language: helper of two tests."""

import re
import string
from dataclasses import dataclass


def sentences(said):
    return re.split(r"(?<=[.!?]) ", said)


def words(said):
    """Return the words of a text in small letters; a hyphen parts them, so IPv6-Router is two."""
    return re.findall(r"[^\W_]+", said.lower())


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainWords:
    """The rules of a language.

    `jargon` matches a whole word in small letters, `blame` and `turn` search the text. Somebody
    acts, or nobody has to: that is the turn, and it stands where the reader ends.
    """

    longest: int
    jargon: re.Pattern
    blame: re.Pattern
    turn: re.Pattern

    def broken(self, said):
        """Return the names of the rules that a text breaks."""
        kept = {
            "length": len(said) <= self.longest,
            "end": said.endswith("."),
            "jargon": not any(map(self.jargon.fullmatch, words(said))),
            "blame": not self.blame.search(said),
            "turn": bool(self.turn.search(sentences(said)[-1])),
            "values": all(name is None for _, name, _, _ in string.Formatter().parse(said)),
        }
        return {rule for rule, holds in kept.items() if not holds}
