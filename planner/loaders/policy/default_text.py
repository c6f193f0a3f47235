"""Writes the default policy as a commented TOML file, ready to be changed by a site."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum
from typing import Any

from planner.domain.policy import Policy
from planner.domain.settings import Unit
from planner.loaders.policy.fields import SECONDS_BY_UNIT, PolicyField, section_fields
from planner.units import MICROLITRES_PER_ML, SECONDS_PER_HOUR, SECONDS_PER_MINUTE

HEAD = """\
# Policy of the site. Every key stands here with its default, switched off by the leading "# ".
# Take the sign away from a line to set it. A key that is not known is an error, so that a slip is seen.
# Spans may be written in _minutes, _seconds or _hours; clock times are "HH:MM"; volumes are mL.
"""


def default_policy_text() -> str:
    """Return the text of a policy file that holds every key with its default, each explained and commented out."""
    policy = Policy()
    lines = [HEAD]
    for field in section_fields(Policy):
        value = getattr(policy, field.name)
        if not field.is_section:
            lines += _lines(field, value)
            continue
        lines += ["", f"# {field.setting.meaning}", f"[{field.name}]"]
        for part in section_fields(field.kind):
            lines += _lines(part, getattr(value, part.name))
    return "\n".join(lines) + "\n"


def _lines(field: PolicyField, value: Any) -> list[str]:
    keys = [key.key for key in field.keys]
    key = next((key for key in keys if _is_exact(field, key, value)), keys[0])
    words = field.setting.range_words
    meaning = f"{field.setting.meaning.removesuffix('.')}; {words}." if words else field.setting.meaning
    return [f"# {meaning}", f"# {key} = {field.setting.example or _toml(field, key, value)}"]


def _is_exact(field: PolicyField, key: str, value: Any) -> bool:
    """Return whether a span is a whole number of the key's unit, so that it reads without a fraction."""
    if field.setting.unit is not Unit.SPAN:
        return True
    spans = value.values() if isinstance(value, Mapping) else [value]
    return all(span % SECONDS_BY_UNIT[key.rpartition("_")[2]] == 0 for span in spans)


def _toml(field: PolicyField, key: str, value: Any) -> str:
    if isinstance(value, Mapping):
        names = [item.value if isinstance(item, Enum) else f'"{item}"' for item in value]
        pairs = zip(names, value.values(), strict=True)
        return "{ " + ", ".join(f"{name} = {_toml(field, key, item)}" for name, item in pairs) + " }"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str | Enum):
        return f'"{value.value if isinstance(value, Enum) else value}"'
    if field.setting.unit is Unit.CLOCK:
        hours, rest = divmod(value, SECONDS_PER_HOUR)
        return f'"{hours:02d}:{rest // SECONDS_PER_MINUTE:02d}"'
    if field.setting.unit is Unit.SPAN:
        return f"{value // SECONDS_BY_UNIT[key.rpartition('_')[2]]}"
    if field.setting.unit is Unit.VOLUME:
        return f"{value / MICROLITRES_PER_ML:g}"
    return str(value)
