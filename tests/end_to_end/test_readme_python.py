"""The Python that README shows runs as it stands, from a folder with the examples."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_readme_example_runs(tmp_path: Path) -> None:
    shown = re.search(
        r"<!-- python -->\n```python\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL
    )
    assert shown is not None
    code = shown[1]
    assert len([line for line in code.splitlines() if line.strip() and not line.startswith("import")]) <= 10
    (tmp_path / "inputs").symlink_to(ROOT / "inputs")
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[:2] == [
        "2 routes; needs a decision: False",
        "1 revision made again from its events",
    ]
    written = tmp_path / "outputs/from-python"
    assert sorted(path.name for path in written.iterdir()) == ["r1", "r2"]
    assert (written / "r2/round-sheet.xlsx").is_file()
