"""The words around figures in English: delays, rates, the path, and what a number rests on."""

from __future__ import annotations

CODEC = {"G.711 with concealment": "G.711 with concealment"}
HEAD_DELAY = ("to", "sent", "lost %", "median", "p95", "PDV")
HEAD_DNS = ("resolver", "answered", "median ms", "p95 ms")
OVER = {"tls": "over TLS", "https": "over HTTPS"}
HEAD_WEB = ("page", "status", "first byte ms", "total ms")
HEAD_RISE = "rise"
SPREADS = "Delay, idle and while the line is full"
HEAD_SPREADS = ("median", "p95", "lost %", "probes")
NOTE_SPREADS = "Round trips of each series in ms; lost with its 95 % interval."
MARKS_SPREADS = "Long tick: median; short tick: 95th percentile; thick rule: what is accepted."
SPREAD_SILENT = "nothing came back"
COURSES = "Throughput over time"
NOTE_COURSES = "TCP payload per second."
MARKS_COURSES = "Filled: what was counted; line across it: its mean; thick rule: what is accepted."
NOTE_DELAY = "Lost with its 95 % interval. In ms; PDV: p95 above the minimum (RFC 5481)."
NOTE_METHOD = {
    "udp-unreachable": "By UDP: refusals of a closed port; hosts limit them, so no loss is stated.",
    "tcp-connect": "By TCP: from SYN to its answer, what waits in this laptop included.",
}
NOTE_CLOCK = "Timed by this program, to tenths of a ms: {roles}."
NOTE_RUNS = "Server: {lost} lost in {runs} runs of up to {longest}; its interval allows for runs."
NOTE_ORDER = "Answers of the server out of order: {late}, by up to {extent} in place."
NOTE_COPIES = "Answers of the server that came more than once: {share}."
NOTE_VOICE = (
    "A call, estimated, not judged (E-model, G.107 simplified): R {r} ({r_low}-{r_high}),"
    " MOS {mos} ({mos_low}-{mos_high}). Assumed: {codec}, {packet} ms of voice a packet, buffer"
    " {buffer} ms, one way half the least round trip, loss of both ways, idle line."
)
NOTE_RISE = "Rise: p95 under load above the idle median."
RATE_ROW = {
    "single": "one flow alone, Mbit/s",
    "burst": "burst at first, Mbit/s",
    "twice": "each time, Mbit/s",
    "limiter": "limited by",
    "ended": "stopped by",
    "counted": "counted by",
    "ideal": "ideal, Mbit/s",
    "ratio": "time against ideal",
    "efficiency": "TCP efficiency",
    "round_trip": "round trip idle / loaded, ms",
    "buffer": "buffer delay",
    "rpm": "round trips a minute",
    "window": "window needed, kB",
    "held": "held by window / buffer",
    "algorithm": "congestion control",
}
LIMITER = {
    "line": "the line",
    "laptop": "this laptop",
    "port": "the port",
    "server": "the server",
    "other-traffic": "other traffic",
    "window": "the window",
    "home": "the home",
    "household": "other devices",
    "network": "the operator's network",
    "undetermined": "not told apart",
}
# Why it is that one that limited.
LIMITED_WHY = {
    "core-full": "one processor full",
    "unread": "data waited for the program",
    "nothing-to-send": "the upload had gaps",
    "kept-back": "the program was held up",
    "core-crowded": "other programs on its processor",
    "stolen": "the host withheld the processor",
    "send-buffer": "own send buffer",
    "capacity": "its port",
    "port-full": "its port was full",
    "crowded": "others on it",
    "processor": "its processors",
    "no-turn": "it had no turn to give",
    "radio": "radio",
    "cut-short": "cut short",
}
POSSIBLY = "{name}?"
LIMITED_BY = {True: "limited by {name}", False: "possibly limited by {name}"}
BURST = "burst of {rate} not counted"
ENDED = {
    "interval": "narrow interval",
    "time": "time",
    "data": "data cap",
    "fault": "a fault",
}
COUNTED_BY = {
    "client": "this laptop",
    "acknowledged": "TCP's count",
    "server": "the server",
    "answers": "whole bodies",
}
IDEAL = {"tier": "sold", "port": "port", "observed": "seen"}
NOT_TOLD = "not told"
NOTE_RATE = "Ideal: the bottleneck as TCP payload. Time, efficiency, buffer, window: RFC 6349."
NOTE_RPM = "Round trips a minute under load: after an IETF draft, the delay series its loaded part."
PATH_LINE = "{hops} hops to the {target}: {reached}"
PATH_REACHED = "reached"
PATH_STOPPED = "ended at hop {at}, {why}"
PATH_STOP = {
    "silent": "silent beyond",
    "loop": "in a loop",
    "hop-limit": "as far as was tried",
    "net-unreachable": "network unreachable",
    "host-unreachable": "host unreachable",
    "protocol-unreachable": "protocol unreachable",
    "port-unreachable": "port unreachable",
    "fragmentation-needed": "packet too large",
    "source-route-failed": "source route failed",
    "prohibited": "prohibited there",
}
PATH_HOP = "hop {distance}"
PATH_PLACED = "{text} ({segment})"
PATH_SILENT = "silent"
PATH_SILENT_RUN = "{count} hops, silent"
PATH_BETWEEN = "{count} hops more"
PATH_SEVERAL = ", several ways at {distances}"
PATH_OR = "{first} or {other}"
PATH_OR_MORE = "{first} or {count} more ways"
PATH_LABELS = "label {labels}"
PATH_ANSWERING = {"limited": "limits its answers", "lossy": "answers missing from here on"}
PATH_SIZE = "MTU"
PATH_SIZES = {
    "none": "{size} bytes pass whole",
    "port": "{size} bytes; this laptop's own port takes no more",
    "named": "{size} bytes, says {by}",
    "silent": "{size} bytes; larger ones vanish after {by}",
    "down": "{size} bytes; larger ones do not come back",
}
PATH_SIZE_SOMEWHERE = "some hop"
PATH_SIZE_PPPOE = " (normal with PPPoE)"
PATH_SIZE_TCP = {True: ", TCP keeps within it", False: ", TCP announces more"}
PATH_UNPLACED = "{addresses}, distance unknown"
SAMPLE = {
    "delay": "{sent} probes",
    "dns": "{sent} queries",
    "throughput": "{used_s}, {flows} flows",
    "repeated": "best of {count}: {used_s}, {flows} flows",
    "http": "{sent} fetches",
    "path": "{sent} probes",
    "pages": "pages: {count}",
}
CONVERTED = "{sold} at {layer} layer = {here} as TCP payload ({share} octets{assumed});"
ACCEPTED_SHARE = "{share} of it is accepted."
ASSUMED = ", header size assumed"
AT_LEAST_PORT = "at least what this port can show"
