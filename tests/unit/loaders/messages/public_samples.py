"""Where the public sample files are: environment variable ORDER_SAMPLES names their folder (hl7/, fhir/ inside).

The repository holds messages of our own only; the samples are other people's test data under their own licences.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest


def sample(kind: str, name: str) -> Path:
    """Return a sample file; skip the test when the folder was not named."""
    folder = os.environ.get("ORDER_SAMPLES")
    if not folder:
        pytest.skip("ORDER_SAMPLES does not name a folder with the public sample files")
    path = Path(folder) / kind / name
    assert path.is_file(), f"{path} is missing"
    return path
