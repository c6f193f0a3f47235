"""README's replan of five wards with equal bed numbers runs as shown, and its answer fits on a screen."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

from planner.cli.exit_codes import ExitCode
from tests.helpers import planner

ROOT = Path(__file__).resolve().parents[2]
MOST_LINES = 25


def test_readme_replan_of_five_wards_runs_as_shown(tmp_path: Path) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    block = re.search(r"<!-- five-wards -->\n```bash\n(.*?)\n```", readme, re.DOTALL)
    shown = re.search(r"<!-- five-wards-output -->\n```text\n(.*?)\n```", readme, re.DOTALL)
    assert block is not None
    assert shown is not None
    plan, replan = [shlex.split(line)[1:] for line in block[1].splitlines()]
    plan[plan.index("inputs/fernbrook")] = str(ROOT / "inputs/fernbrook")
    assert planner(*plan, cwd=tmp_path).returncode == ExitCode.OK
    done = planner(*replan, cwd=tmp_path)
    assert done.returncode == ExitCode.NEEDS_DECISION, done.stderr  # a refusal, and more assumed than the policy allows
    assert shown[1] in done.stdout
    assert len(done.stdout.splitlines()) <= MOST_LINES
    told = done.stdout.partition("\nTell\n")[2]
    assert re.search(r"^  (\S.*)?\bIV\)?: (?!--verbose)", told, re.MULTILINE), "who is said to be late hears what to do"
    assert (tmp_path / "outputs/five-wards/r2/round-sheet.html").is_file()
