"""The second process gives the same answer as this one would, and is not needed to get it."""

from __future__ import annotations

import os
import subprocess
import sys
import textwrap
import threading
from pathlib import Path

import pytest

from planner.library.beside import Beside, second_process, shared

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[3]


def nothing() -> None:
    """Load nothing."""


def run(script: str) -> str:
    """Return what a script prints in a Python of its own, which has one thread."""
    lines = "import os, signal, sys\nfrom planner.library.beside import second_process\n" + textwrap.dedent(script)
    done = subprocess.run(
        [sys.executable, "-c", lines], cwd=ROOT, capture_output=True, text=True, check=False, timeout=60
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="this system does not fork processes")


def test_without_a_process_the_call_is_made_here() -> None:
    assert Beside(None).ask(divmod, 17, 5)() == (3, 2)


def test_with_threads_that_run_already_nothing_is_forked() -> None:
    stop = threading.Event()
    thread = threading.Thread(target=stop.wait)
    thread.start()
    try:
        with second_process(nothing) as beside:
            assert beside.ask(os.getpid)() == os.getpid()
    finally:
        stop.set()
        thread.join()


@needs_fork
def test_call_is_made_in_another_process() -> None:
    script = """
        with second_process(lambda: None) as beside:
            print(beside.ask(os.getpid)() != os.getpid(), beside.ask(divmod, 17, 5)())
    """
    assert run(script) == "True (3, 2)"


@needs_fork
def test_process_that_dies_loses_nothing() -> None:
    # It kills itself in the first call; both calls are then made here.
    script = """
        def die():
            if os.getpid() != here:
                os.kill(os.getpid(), signal.SIGKILL)
            return "made here"
        here = os.getpid()
        import types; sys.modules["dying"] = types.ModuleType("dying"); sys.modules["dying"].die = die
        die.__module__ = "dying"
        with second_process(lambda: None) as beside:
            answer = beside.ask(die)
            print(answer(), beside.ask(divmod, 17, 5)())
    """
    assert run(script) == "made here (3, 2)"


@needs_fork
def test_call_that_fails_fails_here() -> None:
    script = """
        with second_process(lambda: None) as beside:
            try:
                beside.ask(divmod, 1, 0)()
            except ZeroDivisionError:
                print("told")
    """
    assert run(script) == "told"


@needs_fork
def test_no_process_is_left_behind() -> None:
    script = """
        with second_process(lambda: None) as beside:
            other = beside.ask(os.getpid)()
        try:
            os.kill(other, 0)
        except ProcessLookupError:
            print("gone")
    """
    assert run(script) == "gone"


SHARING = """
    import types; from planner.library import beside as b
    here = os.getpid()
    module = types.ModuleType("work"); sys.modules["work"] = module
    def work(n):
        {body}
        return n, os.getpid()
    work.__module__ = "work"; module.work = work
    def both():
        answers = b.shared(work, [(n,) for n in range(6)])
        return os.getpid(), answers()
    both.__module__ = "work"; module.both = both
    with second_process(lambda: None) as beside:
        second, made = beside.ask(both)()
    print([n for n, _ in made], len({{pid for _, pid in made}}), second == here, second in {{pid for _, pid in made}})
"""


@needs_fork
def test_calls_are_shared_with_a_twin_and_answered_in_order() -> None:
    # Each call takes long enough that neither process can make all six.
    script = SHARING.format(body="import time; time.sleep(0.1)")
    assert run(script) == "[0, 1, 2, 3, 4, 5] 2 False True"


@needs_fork
def test_twin_that_dies_loses_nothing() -> None:
    # The twin's parent is the second process, whose parent is this one: the twin kills itself in its first call.
    script = SHARING.format(body="os.getppid() == here or os.kill(os.getpid(), signal.SIGKILL)")
    assert run(script) == "[0, 1, 2, 3, 4, 5] 1 False True"


def test_calls_are_not_shared_outside_the_second_process() -> None:
    assert {pid for _n, pid in shared(lambda n: (n, os.getpid()), [(n,) for n in range(3)])()} == {os.getpid()}


LARGE = """
    import time
    module = __import__("types").ModuleType("work"); sys.modules["work"] = module
    def work(n):
        time.sleep(0.05)
        return bytes(200_000)
    work.__module__ = "work"; module.work = work
    def drawn():
        from planner.library import beside as b
        print("asked", flush=True)
        return len(b.shared(work, [(n,) for n in range(40)])())
    drawn.__module__ = "work"; module.drawn = drawn
    def idle():
        print("asked", flush=True)
    idle.__module__ = "work"; module.idle = idle
    with second_process(lambda: None) as beside:
        answer = beside.ask({asked})
        time.sleep(0.5)
        os.kill(os.getpid(), signal.{name})
        answer()
        time.sleep(20)
"""
"""The twin has far more to send than a pipe holds when its grandparent ends."""


@needs_fork
@pytest.mark.parametrize("asked", ["drawn", "idle"])
@pytest.mark.parametrize("name", ["SIGINT", "SIGKILL", "SIGTERM"])
def test_no_process_holds_the_output_when_this_one_is_stopped(name: str, asked: str) -> None:
    # Whoever runs the tests may have Ctrl-C ignored or blocked, and hand that on.
    lines = """
        import os, signal, sys
        from planner.library.beside import second_process
        signal.pthread_sigmask(signal.SIG_UNBLOCK, [signal.SIGINT, signal.SIGTERM])
        signal.signal(signal.SIGINT, signal.default_int_handler)
    """
    script = textwrap.dedent(lines) + textwrap.dedent(LARGE).replace("{name}", name).replace("{asked}", asked)
    # It ends when all that hold its standard output have ended.
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, check=False, timeout=30,
    )  # fmt: skip
    assert done.stdout == b"asked\n"
