"""The reflector's own process: bulk transfers in the server's never hold up its answers.

Started as `python -m agent.server.reflecting UDP CONTROL LIMITS`: two descriptors it inherits and
its limits as JSON. It holds the sessions; the server asks for them over the control channel, one
question at a time, and the process ends when that channel does, whatever became of the server.
"""

from __future__ import annotations

import gc
import json
import os
import socket
import sys
import threading
from contextlib import suppress
from multiprocessing.connection import Connection

from agent.clock import Clock, SystemClock
from agent.server.options import ReflectorLimits
from agent.server.questions import Answer, Open, Question
from agent.server.reflector import reflect
from agent.server.sessions import SessionBook

# The thread that answers packets waits this long at most for the one that answers the server.
SWITCH_S = 0.000_1
# A packet must not wait behind transfers for a processor; a plain user is refused that.
NICENESS = -10


def main(arguments: list[str]) -> None:
    """Reflect until the server's end of the control channel closes."""
    udp, control, limits = arguments
    sock = socket.socket(fileno=int(udp))
    book = SessionBook(ReflectorLimits(**json.loads(limits)), sock.getsockname()[1])
    clock = SystemClock()
    answering = threading.Thread(
        target=_answer_until_left, args=(Connection(int(control)), book, clock), daemon=True
    )
    _be_quick()
    answering.start()
    reflect(sock, book, clock)


def answer(question: Question, book: SessionBook, now_s: float) -> Answer:
    """Return the book's answer to one question."""
    if isinstance(question, Open):
        return book.open(
            question.address, question.client, now_s, authenticated=question.authenticated
        )
    return (book.close if question.close else book.tally)(question.name, now_s)


def _answer_until_left(control: Connection, book: SessionBook, clock: Clock) -> None:
    try:
        while True:
            control.send(answer(control.recv(), book, clock.monotonic_s()))
    except (EOFError, OSError):
        return
    finally:
        os._exit(0)


def _be_quick() -> None:
    """Let nothing come between a packet and its answer: no rubbish collection, no low priority."""
    sys.setswitchinterval(SWITCH_S)
    gc.freeze()
    gc.disable()
    with suppress(OSError):
        os.setpriority(os.PRIO_PROCESS, 0, NICENESS)


if __name__ == "__main__":
    main(sys.argv[1:])
