"""The privileged helper: one request on standard input, one answer on standard output, the end.

It is started with the raw-frame right and no other, and refuses to work with more.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any, BinaryIO, TextIO

from agent.clock import SystemClock
from agent.errors import printable
from agent.helper.fields import Refusal
from agent.helper.request import LONGEST_LINE, parse_request
from agent.helper.serving import serve

CAP_NET_RAW = 13
DONE, FAILED, REFUSED = 0, 1, 2


def main(source: BinaryIO, sink: TextIO) -> int:
    """Serve one request and return the exit code."""
    line = source.readline(LONGEST_LINE + 1)
    if not line:
        return DONE
    try:
        wanted = parse_request(line)
        _refuse_more_rights(Path("/proc/self/status").read_text(encoding="ascii"))
        answer = serve(wanted, SystemClock())
    except Refusal as error:
        return _say(sink, {"error": "refused", "problem": error.problem}, REFUSED)
    except ImportError:
        return _say(sink, {"error": "frames-extra-missing"}, FAILED)
    except PermissionError:
        return _say(sink, {"error": "right-missing"}, FAILED)
    except OSError as error:
        return _say(sink, {"error": "interface", "problem": printable(error)}, FAILED)
    return _say(sink, answer, DONE)


def _refuse_more_rights(status: str) -> None:
    """Raise Refusal where this process may do more than raw frames (proc(5), CapPrm)."""
    held = next(line.split()[1] for line in status.splitlines() if line.startswith("CapPrm:"))
    if int(held, 16) & ~(1 << CAP_NET_RAW):
        raise Refusal("started with more rights than raw frames")


def _say(sink: TextIO, answer: dict[str, Any], code: int) -> int:
    sink.write(json.dumps(answer) + "\n")
    sink.flush()
    return code


if __name__ == "__main__":
    sys.exit(main(sys.stdin.buffer, sys.stdout))
