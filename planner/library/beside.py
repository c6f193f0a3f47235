"""A second process that prints while this one plans: both cores work, and what comes out is the same bytes.

It is an executor of the standard library with one worker, begun before anything heavy is loaded; the worker loads what
printing needs while the plan is made, and is handed the view. Planning is over by then and both cores are free, so it
begins an executor of its own, whose worker has all loaded, to draw (`shared`). Every worker watches its parent and
ends with it. Where no process can be forked safely (another system, or threads that run already), or if a worker dies,
this process does all.
"""

from __future__ import annotations

import os
import signal
import threading
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from concurrent.futures import Future, ProcessPoolExecutor

T = TypeVar("T")

_may_fork: list[bool] = []
"""Not empty in the second process, whose only other thread watches its parent, so that it can be forked again."""

_shared: list[tuple[Callable[..., Any], Sequence[tuple[Any, ...]]]] = []
"""What the twin is to call; it inherits the arguments, which nobody then needs to pack and unpack."""


class Beside:
    """The other process; ``ask`` hands it one call, and returns what waits for the answer."""

    def __init__(self, executor: ProcessPoolExecutor | None) -> None:
        self._executor = executor

    def ask(self, function: Callable[..., T], *args: Any) -> Callable[[], T]:
        """Start a call of a function of a module with arguments that can be pickled; return what waits for it."""
        if self._executor is None:
            return lambda: function(*args)
        from concurrent.futures import BrokenExecutor

        try:
            future = self._executor.submit(function, *args)
        except BrokenExecutor:
            return lambda: function(*args)

        def answer() -> T:
            try:
                return future.result()
            except BrokenExecutor:
                return function(*args)  # the other process is gone; if the call is at fault, that is seen here

        return answer


@contextmanager
def second_process(load: Callable[[], None]) -> Iterator[Beside]:
    """Fork a process that calls ``load`` and then does what it is asked, until the block ends."""
    if not hasattr(os, "fork") or threading.active_count() > 1:
        yield Beside(None)
        return
    from multiprocessing import active_children

    before = active_children()
    executor = _one_worker(_begin_second)
    executor.submit(load)
    workers = [child for child in active_children() if child not in before]
    try:
        yield Beside(executor)
    finally:
        for worker in workers:
            worker.kill()  # it holds nothing, and may still be loading what nobody needs any more
        executor.shutdown(cancel_futures=True)


def shared(function: Callable[..., T], calls: Sequence[tuple[Any, ...]]) -> Callable[[], list[T]]:
    """Begin to make calls in a twin of this process; return what helps with those that are left, and waits for all.

    Elsewhere than in the second process the calls are made when they are waited for.
    """
    if not _may_fork or len(calls) < 2:
        return lambda: [function(*args) for args in calls]
    executor = _one_worker(_begin_twin, function, calls)
    with warnings.catch_warnings():
        # Python 3.12 warns of a fork beside threads; the one here only waits for the parent's end, and holds nothing.
        warnings.filterwarnings("ignore", message=".*multi-threaded, use of fork", category=DeprecationWarning)
        futures: list[Future[T]] = [executor.submit(_call, n) for n in range(len(calls))]

    def answers() -> list[T]:
        from concurrent.futures import BrokenExecutor

        # From the end, so that the two meet; a call that the twin has begun, or is about to, cannot be taken back.
        ours = {n: function(*calls[n]) for n in reversed(range(len(calls))) if futures[n].cancel()}
        made: list[T] = []
        for n, args in enumerate(calls):
            try:
                made.append(ours[n] if n in ours else futures[n].result())
            except BrokenExecutor:
                made.append(function(*args))  # the twin is gone; if the call is at fault, that is seen here
        executor.shutdown()
        return made

    return answers


def _one_worker(begin: Callable[..., None], *args: Any) -> ProcessPoolExecutor:
    """Return an executor of one forked process, which its first call starts; the arguments of ``begin`` it inherits."""
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    return ProcessPoolExecutor(1, mp_context=get_context("fork"), initializer=begin, initargs=args)


def _begin_second() -> None:
    _begin()
    os.environ["OPENBLAS_NUM_THREADS"] = "1"  # threads of a library would forbid the twin
    _may_fork.append(True)


def _begin_twin(function: Callable[..., Any], calls: Sequence[tuple[Any, ...]]) -> None:
    _begin()
    _may_fork.clear()
    _shared.append((function, calls))


def _call(n: int) -> Any:
    """Make a call in the twin."""
    function, calls = _shared[-1]
    return function(*calls[n])


def _begin() -> None:
    """Leave Ctrl-C to the process that plans, and end as soon as the parent is gone, whatever is being done."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    from multiprocessing import parent_process

    parent = parent_process()
    if parent is not None:
        parent.join()
    os._exit(0)
