"""The seal of a plan.json: a digest that tells whether anything in it was changed since it was written.

It finds edits by hand, broken copies and slips of other programs. It is no signature: whoever knows this page can
compute another one.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

SEAL = "seal"
"""The key of the digest; everything else in the file is what it is made from."""


def seal_of(document: Mapping[str, Any]) -> str:
    """Return the digest of all values of a plan.json but the seal itself, however the file is laid out."""
    values = {key: value for key, value in document.items() if key != SEAL}
    text = json.dumps(values, sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()
