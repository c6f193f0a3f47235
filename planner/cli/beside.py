"""A second process that draws while this one plans: both cores work, and what comes out is the same bytes.

It is started before anything heavy is loaded, loads what drawing needs while the plan is made, and is handed the view.
Where no process can be forked safely (another system, or threads that run already), or if it dies, this one does all.
"""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection, Pipe
from typing import Any, TypeVar

T = TypeVar("T")


class Beside:
    """The other process; ``ask`` hands it one call, ``answer`` waits for what the call returns."""

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
            os.kill(pid, signal.SIGKILL)  # it holds nothing, and may still be loading what nobody needs any more
            os.waitpid(pid, 0)


def _serve(connection: Connection, load: Callable[[], None]) -> None:
    """Answer calls until the other end closes or a call fails; the process ends here, whatever happens."""
    try:
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the planning process's affair
        load()
        while True:
            function, args = connection.recv()
            connection.send(function(*args))
    except (EOFError, OSError):
        pass
    finally:
        os._exit(0)
