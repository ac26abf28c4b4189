"""Every word of the sheet in English, keyed by the codes of the record.

Templates name the values of their code; `wording.py` writes values with their units. A code that
is not here still reads: the fallback sentence shows it.
"""

from __future__ import annotations

LANGUAGE = "en"
TITLE = "Line visit sheet"

VERDICT = {
    "meets": "Meets what was sold",
    "below": "Below what was sold",
    "not-proven": "Not proven",
}
OUTCOME = {"meets": "kept", "below": "missed", "not-proven": "not proven"}
EVIDENCE_ONLY = "{outcome} (advice)"

REASON_MEETS = "Every promise that was needed is kept: {count} of {count}."
REASON_MEETS_PORT = "Every promise that was needed is kept, the rate as far as this port can show."
REASON_MISSED = "{label} {value}; {bound} {limit} is accepted."
REASON_NOTHING = "Too little was measured to say anything about the line."
BOUND = {"at-least": "at least", "at-most": "at most"}
BOUND_SIGN = {"at-least": "≥", "at-most": "≤"}

SEGMENT = {
    "laptop": "Laptop",
    "home": "Home",
    "modem": "Modem",
    "access": "Access line",
    "operator": "Operator",
    "beyond": "Beyond",
    "none": "none",
    "undetermined": "undetermined",
}
GROUND = {
    "clear": "no fault found",
    "likely": "fault likely here",
    "possible": "fault possible here",
    "unfit": "not fit to judge",
    "unreached": "not reached",
    "unknown": "not examined",
    "absent": "not in the way",
}
# The same in the middle of a sentence.
SEGMENT_IN_LINE = {
    "laptop": "laptop",
    "home": "home",
    "modem": "modem",
    "access": "access line",
    "operator": "operator",
    "beyond": "beyond",
    "none": "none",
    "undetermined": "undetermined",
}
STRIP = "The way out, from this laptop"
STRIP_PORT_DOWN = "port without link"
STRIP_BRIDGED = "plugged into the {plugged}"
STRIP_PLUGGED = {"ont": "ONT", "modem": "modem"}
COUNT_OF = "{count}\N{NO-BREAK SPACE}of\N{NO-BREAK SPACE}{total}"
DUPLEX = {"full": "full duplex", "half": "half duplex"}
DUPLEX_OTHER = "{code} duplex"
# Sources that the program and its shipped settings name; a company's own are printed as they are.
LIMIT_SOURCE = {
    "common practice, no source": "common practice, no source",
    "built in": "built in",
    "settings accept": "share of the sold rate that the settings accept",
    "tier": "the tier itself",
    "no tier": "no tier",
}
STRIP_SILENT = "{sent} probes, no answer"
STRIP_ANSWERED = "{median}, {count} lost"
STRIP_PASSES = "traffic passes"
STRIP_ADDRESS = "address held"
STRIP_NO_ADDRESS = "no address"
STRIP_PAGES = "{count} pages came"

ROLE = {
    "local": "this laptop",
    "gateway": "gateway",
    "modem": "modem",
    "first-hop": "first hop",
    "server": "server",
    "outside": "outside",
    "resolver": "resolver",
}
TO_ROLE = " to {role}"
KIND = {
    "link": "port",
    "lease": "address",
    "dns": "names (DNS)",
    "delay": "delay and loss",
    "path": "path",
    "http": "web",
    "reach": "ports",
    "throughput": "throughput",
}
HOW_IT_WENT = "{state}, took {duration}"
STATE = {
    "complete": "complete",
    "partial": "cut short",
    "failed": "not possible",
    "skipped": "not asked for",
}
DIRECTION = {"down": "download", "up": "upload", "both": ""}
LOAD = {"none": "", "down": ", downloading", "up": ", uploading"}
LONG_PROBES = ", long"
METHOD = {
    "stamp": "STAMP",
    "icmp-echo": "ICMP echo",
    "udp-unreachable": "UDP to a closed port",
    "tcp-connect": "TCP connection",
}
BY_METHOD = {"udp-unreachable": ", by UDP", "tcp-connect": ", by TCP"}
PLUGGED = {
    "ont": "optical terminal (ONT)",
    "modem": "modem",
    "router": "router",
    "mesh": "mesh unit",
    "unknown": "not stated",
}
ACCESS = {
    "fibre": "fibre",
    "cable": "cable",
    "dsl": "DSL",
    "wireless": "fixed wireless",
    "unknown": "not stated",
}
HANDOVER = {"dhcp": "DHCP", "pppoe": "PPPoE", "static": "static"}
PURPOSE = {"installation": "installation", "help-desk": "help desk", "complaint": "complaint"}
LAYER = {
    "payload": "TCP payload",
    "ip": "IP",
    "frame": "Ethernet frame",
    "docsis-frame": "DOCSIS frame",
    "wire": "wire",
}
MEDIUM = {
    "wired": "wired",
    "wireless": "Wi-Fi",
    "mobile": "mobile network",
    "ppp": "PPP",
    "tunnel": "tunnel",
    "loopback": "loopback",
    "unknown": "unknown medium",
}
ORIGIN = {
    "dhcp": "by DHCP",
    "static": "static",
    "self-assigned": "self-assigned, not usable",
    "ppp": "by PPP",
    "kernel": "by router advertisement",
    "none": "none",
    "unknown": "of unknown origin",
}
TRANSLATED_AT_HOME = "the server sees another address than the laptop's"
TRANSLATED_AGAIN = "{routers} routers of the home, one behind the other"
TRANSLATED_BY_OPERATOR = "the line's address is shared among customers"
NOT_TRANSLATED = "none: the server sees the laptop's own address"
PORTS_LINE = "{good} of {tried} as expected"
PORTS_OTHER = "{line}; not {names}"
SEEN_PORT = "{transport} port {own} as {seen}"
IPV6_STATE = {"present": "works", "absent": "not given", "broken": "given, does not work"}
IPV6_TRANSLATED = "{state}, IPv4 by translation"

CRITERION = {
    "lease": "Address held",
    "gateway-loss": "Loss to the gateway",
    "gateway-delay-median": "Delay to the gateway, median",
    "gateway-delay-p95": "Delay to the gateway, 95th percentile",
    "first-hop-delay-median": "Delay to the first hop, median",
    "server-loss": "Loss to the server and back",
    "server-loss-up": "Loss towards the server",
    "server-loss-down": "Loss from the server",
    "server-delay-median": "Delay to the server, median",
    "server-delay-variation": "Delay variation to the server",
    "server-delay-rise-down": "Rise of delay while downloading",
    "server-delay-rise-up": "Rise of delay while uploading",
    "path-reached": "Path arrives at the server",
    "dns-unanswered": "Names left unanswered",
    "dns-median": "Names answered, median",
    "dns-p95": "Names answered, 95th percentile",
    "web-reached": "Web pages reached",
    "web-total": "Time of a web page, median",
    "throughput-down": "Download",
    "throughput-up": "Upload",
}

# Criteria whose number is only whether it is so.
YES_NO = {
    "lease": {True: "held", False: "none held"},
    "path-reached": {True: "yes", False: "no"},
}

REASON = {
    "no-tier": "No tier was given, so there is nothing to hold the rate against.",
    "not-measured": "Not measured: {cause}.",
    "cut-short": "The measurement was cut short, so it proves nothing here.",
    "silent": "None of {sent} probes was answered.",
    "silent-but-passing": "It does not answer probes itself, but traffic passes through it.",
    "means-silent": "None of {probes} probes was answered ({means}): it may not answer this means.",
    "answers-limited": "It limits its answers to these probes: a missing one is no loss.",
    "udp-silent": "The server's test port is silent although transfers work: blocked, not lost.",
    "too-few-probes": "{sent} probes cannot prove this limit; {needed} are needed.",
    "not-reached": "So many probes were lost that this percentile does not exist.",
    "uncorroborated": "Loss to the gateway alone does not count: traffic through it is fine.",
    "intercepted": "Another page came in place of those asked for: {portal}.",
    "within-interval": "The limit lies inside the interval.",
    "no-interval": "No interval could be computed.",
    "unfit": "Missed, but this laptop or moment is not fit to judge it: {fact}.",
    "others-on-unknown": "Missed, but other devices may have been using the line.",
    "others-on": "Missed, but other devices were using the line.",
    "limited": "Missed, but {by} held the rate back{why}: it says nothing of the line.",
    "measurements-disagree": "Two measurements disagree: {highest_bps} and {lowest_bps}.",
    "port-ceiling": "The port itself cannot carry this tier, so the line cannot be judged.",
    "single-measurement": "Below on one measurement; a second one would confirm it.",
    "another-line": "This was not the line under test: no verdict either way.",
    "tunnel": "A tunnel was on: no verdict either way.",
    "nothing-beyond": "Nothing beyond the gateway answered, so this cannot be told from an outage.",
    "names-silent": "No resolver answers, so no page can be asked for.",
    "path-filtered": "The walk is filtered, but the server is reached by other means.",
    "too-few-targets": "Too few web targets to fail a line by.",
    "pppoe-no-session": "A PPPoE line without a session: no address is expected.",
}
# Why a measurement was not made: the codes of the errors, and of the session.
CAUSE = {
    "right-missing": "the right {right} is missing",
    "no-interface": "there is no port {interface}",
    "interface-down": "the port {interface} has no link",
    "no-address": "the port has no usable address",
    "no-route": "there is no route to {address}",
    "not-taken": "this laptop did not send to {address}: {problem}",
    "too-large": "a packet was larger than the port takes",
    "means-not-written": "probing by {means} is not written for {system}",
    "name-not-resolved": "the name {name} could not be looked up",
    "refused": "{address} refused the connection",
    "timed-out": "{address} did not answer within {after_s}",
    "closed-early": "{address} closed the connection too early",
    "bad-reply": "{address} gave an answer that cannot be used",
    "tls-fault": "the secure connection to {address} failed",
    "empty": "nothing was counted",
    "server-busy": "the server was busy and asked for a wait of {wait_s}",
    "server-stays-busy": "the server was busy: it asked for {wait_s} after a wait of {waited_s}",
    "prober-failed": "the process that times the loaded line failed: {problem}",
    "malformed": "a reply broke its format",
    "output": "it could not be written",
    "unexpected": "an error of this program: {error}",
    "overran": "it took longer than allowed",
    "not-in-plan": "the plan does not ask for it",
    "no-server": "no server is configured",
    "no-consent": "nobody agreed to the line being filled",
    "not-asked": "left out on request",
    "stopped": "it was stopped before its end",
    "interrupted": "the visit was stopped first",
    "time-limit": "its time ran out after {after_s}",
    "reflector-limited": "the server would not answer {refused} of the probes",
    "reflector-elsewhere": "{packets} probes reached the server from an address not granted",
    "reflector-unverified": "{packets} probes did not come to the server as they were sent",
    "data-cap": "the data that the visit may move was used up",
    "no-target": "no web page is configured",
    "no-ports": "no ports are configured",
    "no-test-names": "no names to look up are configured",
    "no-gateway": "no gateway is known",
    "no-resolver": "no resolver is known",
}
CAUSE_FALLBACK = "code {code}"

FITNESS = {
    "wireless": "the laptop was on Wi-Fi",
    "half_duplex": "the port ran half duplex",
    "tunnel": "a tunnel was on",
    "another_line": "another line carried the test",
    "other_traffic": "other traffic ran on this port ({measured})",
    "processor_busy": "the laptop's processor was busy ({measured})",
    "on_battery": "the laptop ran on battery",
    "port_ceiling": "the port carries at most {measured}",
    "others_on": "other devices on the line: {measured}",
    "clock_offset": "the laptop's clock was off by {measured}",
    "unverified_system": "this program was never tried on {measured}",
    "power_saver": "the laptop saved power ({measured})",
    "memory_low": "only {measured} of the laptop's memory was free",
    "usb_bus": "the adapter hangs on a USB bus of {measured}",
    "hidden_hop": "something unnamed stands between laptop and gateway ({measured})",
    "laptop_check": "this laptop carried only {measured} in its own check",
    "virtual_machine": "the laptop is a virtual machine",
}
FITNESS_UNKNOWN = "fitness fact {code}"
FITNESS_LINE = "{fact}; not judged by it: {voids}"
FITNESS_KEPT = "{fact}; nothing was left unjudged for it alone"
FITNESS_NOTED = "{fact}; only noted"
FITNESS_NONE = "Nothing made this laptop or this moment unfit to judge."
VOIDS = {
    "throughput": "throughput",
    "delay": "delay",
    "loss": "loss",
    "reach": "reach",
    "all": "everything",
}

UNREAD = "Not read"
UNREAD_REASON = (
    "The record has version {version}, this program knows versions up to {known}: nothing of it is "
    "shown, so that nothing is misread."
)
UNREAD_STEP = "Open it with a newer doorstep; doorstep verify says whether it is unchanged."
NEXT_STEP = "Next step"

NOT_MEASURED = "{what}: {why}"
NOT_MEASURED_NONE = "Everything of the plan was measured."
MORE = "… {count} more in the record"

CAUTIONS = (
    "Not a certified measurement. Local rules and licensed practice decide.",
    (
        "Never open equipment, taps or powered plant, disturb a ground bond, look into a fibre, or "
        "unplug an alarm or telecare device."
    ),
    "It speaks for the time and the place of the visit only.",
)

BANNER_REDACTED = "Redacted: identity and addresses were removed; every judged number is unchanged."
BANNER_PRACTICE = "Practice network: no real line was measured."
BANNER_UNSEALED = "This record carries no valid seal."

LABEL = {
    "sheet": "Sheet",
    "rates": "Sold, accepted, measured",
    "promises": "Other promises",
    "measured": "measured",
    "accepted": "accepted",
    "sold": "sold",
    "plugged_into": "Plugged into",
    "port": "Port",
    "nothing_else_on": "Nothing else on",
    "tier": "Sold",
    "findings": "Findings",
    "fitness": "Fit to judge",
    "missing": "Not measured, and why",
    "cautions": "Mind",
    "delay": "Delay and loss",
    "rate": "Rate in detail",
    "dns": "Names (DNS)",
    "web": "Web",
    "path": "Path",
    "address": "Address and port",
    "visit": "Visit",
    "server": "Server",
    "turn": "Waited for its turn",
    "names": "Names and pages",
    "pages": "Web pages",
    "hash": "SHA-256",
    "median": "median",
    "measured_by": "Measured by",
    "system": "System",
    "check": "Own check",
    "settings": "Settings",
    "practice": "What the practice network played",
    "started": "Started",
    "took": "Took",
    "work_order": "Work order",
    "technician": "Technician",
    "premises": "Premises",
    "equipment": "Equipment",
    "spot": "Spot",
    "purpose": "Purpose",
    "access": "Line",
    "gateway": "Gateway",
    "resolver": "Resolver",
    "resolvers": "Resolvers",
    "ipv6": "IPv6",
    "seen_as": "Seen as",
    "ports": "Ports",
    "translation": "Translation",
    "lease": "Lease",
    "offers": "Offers heard",
    "concentrators": "PPPoE heard",
    "limits": "Limits",
    "rule": "Rule",
    "program": "Program",
    "run_by": "Run by",
    "receipts": "Counted there",
    "record": "Record",
    "fault": "Fault",
    "came": "Measurement",
    "reason": "Why",
}
STATED = {True: "yes, as stated", False: "no, others were on", None: "not stated"}
NO_FAULT = "none"
TRUE_FALSE = {True: "yes", False: "no"}
# What a practice network tells of itself.
TRUTH = {
    "down_bps": "Download",
    "up_bps": "Upload",
    "layer": "Counted in",
    "rtt_ms": "Round trip",
    "jitter_ms": "Delay variation",
    "loss_down": "Loss down",
    "loss_up": "Loss up",
    "segment": "Segment",
    "translated": "Addresses translated",
    "home": "Kind of home",
    "seed": "Seed",
}
NONE_GIVEN = "not given"
RULE = {
    "simple": "simple: the value against the limit, interval shown",
    "guarded": "guarded: the whole interval against the limit",
}
TOOK = "{took}, {moved} moved"
NAMES_LINE = "{resolver}: {answered} answered, median {median}"
PAGES_LINE = "{came} came; slowest {slowest}, {total}"
CHECKED = "{day}: {down} down, {up} up"
SIGNED = "Signed"
SIGNED_BY = "{role}: {name}"
CUSTOMER = "Customer"
NOT_SIGNED = ("refused", "absent")
TICKS_TITLE = "Before leaving"
TICKS = ("phone has a dial tone", "TV plays", "everything put back")
TICKET = "Ticket line"
DETAIL = "Second sheet: figures for the engineer"
CONTINUED = "Second sheet of record {number}"
LEASE_LINE = "{minutes} min, renewal after {t1} min"
LEASE_LINE_ASSUMED = "{minutes} min, renewal after {t1} min by default"
ADDRESS_STATE = {
    "deprecated": "deprecated",
    "tentative": "not yet confirmed",
    "duplicate": "in use by another device",
    "expired": "lease over",
}
PORT_OVER = "{name} over {parent}"
PORT_TAG = "{name}, tag {tag}"
HOW_TO_VERIFY = (
    "Ask for the record and run: doorstep verify record.json. It must show this number and this "
    "hash."
)
VERIFY = {
    "no-seal": "The record carries no seal.",
    "canonical-form-unknown": "The record uses a canonical form that this program does not know.",
    "not-canonical": "The record holds something that its canonical form forbids.",
    "body-changed": "What was measured or concluded was changed after the record was sealed.",
    "private-changed": "Identity or addresses were changed after the record was sealed.",
    "private-hash-missing": "The hash over identity and addresses was removed.",
    "record-number-wrong": "The record number does not match its check character.",
}
VERIFY_WHOLE = "Whole and unchanged."
VERIFY_REDACTED = "Whole and unchanged; identity and addresses were removed."
