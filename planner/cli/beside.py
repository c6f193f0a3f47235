"""A second process that prints while this one plans: both cores work, and what comes out is the same bytes.

It is started before anything heavy is loaded, loads what printing needs while the plan is made, and is handed the view.
Planning is over by then and both cores are free, so it forks a twin, which has all loaded, to draw (`shared`).
Where no process can be forked safely (another system, or threads that run already), or if it dies, this one does all.
"""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection, Pipe
from typing import Any, TypeVar

T = TypeVar("T")

_TICKET = 2
"""Bytes of a ticket; a pipe hands them out whole."""

_may_fork: list[bool] = []
"""Not empty in the second process, which has one thread and so can be forked again."""


class Beside:
    """The other process; ``ask`` hands it one call, and returns what waits for the answer."""

    def __init__(self, connection: Connection | None) -> None:
        self._connection = connection

    def ask(self, function: Callable[..., T], *args: Any) -> Callable[[], T]:
        """Start a call of a function of a module with arguments that can be pickled; return what waits for it."""
        connection = self._connection
        if connection is None:
            return lambda: function(*args)
        try:
            connection.send((function, args))
        except OSError:
            return lambda: function(*args)

        def answer() -> T:
            try:
                value: T = connection.recv()
            except (EOFError, OSError):
                return function(*args)  # the other process is gone; if the call is at fault, that is seen here
            return value

        return answer


@contextmanager
def second_process(load: Callable[[], None]) -> Iterator[Beside]:
    """Fork a process that calls ``load`` and then does what it is asked, until the block ends."""
    if not hasattr(os, "fork") or threading.active_count() > 1:
        yield Beside(None)
        return
    ours, theirs = Pipe()
    pid = os.fork()
    if pid == 0:
        ours.close()
        _serve(theirs, load)
    theirs.close()
    try:
        yield Beside(ours)
    finally:
        ours.close()
        with suppress(ProcessLookupError, ChildProcessError):
            # The twin, if any, sees at its next call that its parent is gone, and ends.
            os.kill(pid, signal.SIGKILL)  # it holds nothing, and may still be loading what nobody needs any more
            os.waitpid(pid, 0)


def _serve(connection: Connection, load: Callable[[], None]) -> None:
    """Answer calls until the other end closes or a call fails; the process ends here, whatever happens."""
    try:
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the planning process's affair
        os.environ["OPENBLAS_NUM_THREADS"] = "1"  # a library that starts threads of its own forbids the twin
        _may_fork.append(True)
        load()
        while True:
            function, args = connection.recv()
            connection.send(function(*args))
    except (EOFError, OSError):
        pass
    finally:
        os._exit(0)


def shared(function: Callable[..., T], calls: Sequence[tuple[Any, ...]]) -> Callable[[], list[T]]:
    """Begin to make calls in a twin of this process; return what helps with those that are left, and waits for all.

    Elsewhere than in the second process the calls are made when they are waited for. A pipe full of numbers deals the
    calls: whoever is free reads the next.
    """
    if not _may_fork or len(calls) < 2:
        return lambda: [function(*args) for args in calls]
    tickets, issue = os.pipe()
    os.write(issue, b"".join(n.to_bytes(_TICKET, "big") for n in range(len(calls))))
    os.close(issue)
    ours, theirs = Pipe(duplex=False)
    parent = os.getpid()
    pid = os.fork()
    if pid == 0:
        try:
            ours.close()  # else the twin would wait for itself to read what it sends, when its parent is gone
            theirs.send(_dealt(tickets, function, calls, parent))
        finally:
            os._exit(0)
    theirs.close()

    def answers() -> list[T]:
        made = _dealt(tickets, function, calls)
        with suppress(EOFError, OSError), ours:
            made |= ours.recv()
        os.close(tickets)
        os.waitpid(pid, 0)
        # What the twin failed to make is made here; if a call is at fault, that is seen here.
        return [made[n] if n in made else function(*args) for n, args in enumerate(calls)]

    return answers


def _dealt(
    tickets: int, function: Callable[..., T], calls: Sequence[tuple[Any, ...]], parent: int | None = None
) -> dict[int, T]:
    """Make calls, one a ticket, until there are no more, or the parent is gone; return what they returned by number."""
    made: dict[int, T] = {}
    while (parent is None or os.getppid() == parent) and (ticket := os.read(tickets, _TICKET)):
        n = int.from_bytes(ticket, "big")
        made[n] = function(*calls[n])
    return made
