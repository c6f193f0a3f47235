"""Runs tests in a copy of the program out of which a control was taken, in a process that has the libraries loaded.

``python without.py COPY`` reads a line of JSON per run: the arguments of pytest. It answers each with a line: the exit
code, and what was printed. Each run is a fork, so that it loads the changed program from the beginning; pytest and the
libraries, which take longer to load than most tests to run, are inherited.
"""

from __future__ import annotations

import importlib
import json
import os
import subprocess
import sys
import tempfile
import traceback
from collections.abc import Iterable
from pathlib import Path
from typing import Any

LIBRARIES = (
    "pytest",
    "hypothesis.strategies",
    "matplotlib.backends.backend_agg",
    "matplotlib.backends.backend_svg",
    "matplotlib.figure",
    "networkx",
    "numpy",
    "openpyxl",
    "ortools.sat.python.cp_model",
    "typer.testing",
)


class Without:
    """The process that runs tests in a copy of the program; ``run`` returns pytest's exit code, and what it printed."""

    def __init__(self, copy: Path) -> None:
        # The rounds of these tests are small: timing their routes in plain Python takes less than compiling for a copy.
        env = {**os.environ, "PYTHONPATH": str(copy), "NUMBA_DISABLE_JIT": "1", "OPENBLAS_NUM_THREADS": "1"}
        self._process = subprocess.Popen(
            [sys.executable, str(Path(__file__).resolve()), str(copy)],
            cwd=copy, env=env, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip

    def run(self, tests: Iterable[str]) -> tuple[int, str]:
        options = ["-q", "-x", "-p", "no:cacheprovider", "-W", "ignore::pytest.PytestAssertRewriteWarning"]
        assert self._process.stdin is not None and self._process.stdout is not None
        print(json.dumps([*options, *sorted(tests)]), file=self._process.stdin, flush=True)
        code, printed = json.loads(self._process.stdout.readline())
        return code, printed

    def close(self) -> None:
        self._process.communicate()


def _answer(arguments: list[str]) -> tuple[int, str]:
    with tempfile.TemporaryFile("w+") as printed:
        child = os.fork()
        if not child:
            for number in (1, 2):
                os.dup2(printed.fileno(), number)
            code = os.EX_SOFTWARE  # what goes wrong here is no failed test
            try:
                pytest: Any = importlib.import_module("pytest")
                code = int(pytest.main(arguments))
            except BaseException:
                traceback.print_exc()
            sys.stdout.flush()
            os._exit(code)
        code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        printed.seek(0)
        return code, printed.read()


if __name__ == "__main__":
    sys.path[0] = sys.argv[1]
    for name in LIBRARIES:
        importlib.import_module(name)
    assert not [name for name in sys.modules if name.split(".")[0] in ("planner", "tests")]
    for line in sys.stdin:
        print(json.dumps(_answer(json.loads(line))), flush=True)
