"""A process killed at any step of writing leaves the revision before whole, and the folder can be written to again."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow


DRIVER = '''
import os, signal, sys
from pathlib import Path
from planner.exporters import files

FIRST = {"plan.json": b"first" * 5000, "run.json": b"{}"}
SECOND = {"plan.json": b"second" * 5000, "round-sheet.xlsx": b"x" * 70000, "run.json": b"{}"}
STEPS = ("mkdir", "write", "fsync", "rename", "replace", "chmod", "open", "close", "unlink", "rmdir")


def killed_at(step):
    """Write the second revision in a child that kills itself before its step-th call to the system; how it ended."""
    pid = os.fork()
    if pid == 0:
        calls = 0

        def counted(real):
            def call(*args, **kwargs):
                nonlocal calls
                calls += 1
                if calls == step:
                    os.kill(os.getpid(), signal.SIGKILL)
                return real(*args, **kwargs)
            return call

        for name in STEPS:
            setattr(os, name, counted(getattr(os, name)))
        files.write_revision(out, SECOND)
        os._exit(0)
    return os.waitpid(pid, 0)[1]


def held(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


step, seen = 0, set()
while True:
    step += 1
    out = Path(sys.argv[1]) / str(step)
    files.write_revision(out, FIRST)
    status = killed_at(step)
    assert held(out / "r1") == FIRST, step
    numbers = files.revisions(out)
    assert numbers in ([1], [1, 2]), (step, numbers)
    if numbers == [1, 2]:
        assert held(out / "r2") == SECOND, step
    again = files.write_revision(out, SECOND)
    assert again.name == f"r{len(numbers) + 1}" and held(again) == SECOND, step
    files.remove_leftovers(out, now_s=2.0 ** 40)
    assert sorted(path.name for path in out.iterdir()) == [f"r{n}" for n in range(1, len(numbers) + 2)], step
    seen.add(len(numbers))
    if status == 0:
        break
    assert os.WIFSIGNALED(status), step
print(step - 1, sorted(seen))
'''


def test_killed_at_every_step_of_writing(tmp_path: Path) -> None:
    done = subprocess.run([sys.executable, "-c", DRIVER, str(tmp_path)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    steps, _, seen = done.stdout.partition(" ")
    assert int(steps) >= 12  # three files of one write and one fsync each, the folders, the rename
    assert seen.strip() == "[1, 2]"  # killed both before and after the revision appeared
