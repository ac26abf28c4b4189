"""What is said to a trainee in English: the page without its diagnosis, questions and answers."""

from __future__ import annotations

TITLE = "Training sheet"
STRIP_SEEN = "seen"
YOUR_TURN = "Your turn"
TURN_TEXT = "What is wrong here, and on which part of the way? What follows are the figures."
PROOF_LATER = "The record and its pages are written once the answers are in."

PART = {
    "laptop": "laptop",
    "home": "home",
    "modem": "modem",
    "access": "access line",
    "operator": "operator",
    "beyond": "beyond the operator",
    "none": "none: nothing is at fault",
}
ASK_PART = "Which part of the way is at fault?"
ASK_FAULT = "What was played?"
NOTHING = "Nothing: line, home and laptop are sound."
PROMPT = "Number or word: "
AGAIN = "{said} is none of these. Give a number from 1 to {count}, or the word."
SAID_NOTHING = "An empty line"
NOT_TAKEN = "Three answers that are none of these: going on without one."
NO_ANSWER = "No answer came: standard input ended. Here is what was played."

RIGHT = "Right: {truth}."
WRONG = "Not right: {said}. It was: {truth}."
UNANSWERED = "Not answered. It was: {truth}."
NOTHING_PLAYED = "nothing wrong"

ANSWERS = "Your answers"
PLAYED = "What was played"
PLAYED_FAULT = "{name}, {severity}: {sentence}"
AGAIN_WITH = "To see the whole visit again: {command}"
SAID = "What Doorstep said"
FINDING = "{likelihood} (confidence {confidence}), {place}: {sentence}"
ADVICE = "Advice: {sentence}"
UNNAMED = "It did not name what was played."
HARMLESS = "Nothing needs to name it: it harms nothing on this line."
OTHER_PLACE = "It names what was played, but places it elsewhere than it was."
FALSE_ALARM = "Nothing was wrong, so what it said is a false alarm."
EVIDENCE = "The evidence: {sentence}"
EVIDENCE_NONE = "No single measurement: it rests on what was stated, or on what was not seen."
SOUND = "What speaks for a sound line"
WHY = "The verdict: {verdict}. {reason}"
STEP = "Next step"

ROW = "{block}, {row}: {figures}."
ROWLESS = "{block}: {figures}."
SENT_LOST = "{sent} probes, {lost} lost ({share})"
SENT_LOST_BETWEEN = "{sent} probes, {lost} lost ({share}, interval {between})"
EACH_WAY = "{up} lost on the way up, {down} on the way down"
SENT_SILENT = "{sent} probes, none answered"
MEDIAN = "median {median}, 95th percentile {p95}"
RISE = "{rise} above the idle line"
QUERIES = "{answered} of {sent} queries answered"
FETCHES = "{answered} of {sent} fetches answered"
STATUS = "status {status}"
PAGE_TIMES = "first byte after {first}, whole page after {total}"
RATE = "{rate} of TCP payload ({between}), {flows} flows"
HELD_BY = "held by {limiter}"
PORTS = "{good} of {tried} listed ports as expected"
PORT = "{name} ({transport} {port}): {outcome}"
OUTCOME = {"filtered": "silent", "unreachable": "refused by a router"}
PORT_ANSWERS = "answered by routers up to hop {last}, a port beside it up to hop {beside}"
MARK = "{name}: {value}"
MORE = "and {count} figures more in the record"
