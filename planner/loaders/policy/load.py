"""Loads a policy file (TOML) onto the defaults, with a finding for each key or value that cannot be."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import replace
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from planner.domain.policy import EVERYBODY, Policy
from planner.finding_codes import Code
from planner.findings import Finding, Report, Severity, Source
from planner.loaders.policy.fields import PolicyKey, ValueRefusedError, section_fields

_MOVED = {
    "tubes.transfusion_first_choice": "set first_choice to no for each such test in the table of tests",
    "blood.adult_flag_7d_ml": "nothing asked for it; delete the line",
    "blood.adult_ml_per_kg_tbv": "nothing asked for it; delete the line",
    **{
        f"replan.moved_stop_price_{unit}": f"write moved_stop_{unit} in the section [prices]"
        for unit in ("minutes", "seconds", "hours")
    },
}
"""Keys of earlier versions, and where their value stands now."""


def load_policy(source: str | Path = "", file: str = "policy.toml") -> tuple[Policy, list[Finding]]:
    """Return the policy that a file or a text states, with defaults for all that it does not.

    Keys are the fields of `planner.domain.policy` with their unit written out: ``x_s`` is written ``x_minutes``,
    ``x_seconds`` or ``x_hours``; ``x_at_s`` is ``x_at = "HH:MM"``; ``x_ul`` is ``x_ml``. A table by priority,
    precaution or ward changes only the entries that it names. A value that cannot be keeps its default.

    Parameters
    ----------
    source
        A `Path` to read, or the text itself.
    file
        The name to print in findings when the text itself is given.
    """
    report = Report()
    name = source.name if isinstance(source, Path) else file
    try:
        text = source.read_bytes().decode("utf-8-sig") if isinstance(source, Path) else source
        tables = tomllib.loads(text)
    except (OSError, ValueError, RecursionError) as error:  # what tomllib raises for text, huge numbers, deep nesting
        message = f"the policy cannot be read ({error}); correct the file, defaults are used until then"
        report.add("policy-unreadable", Severity.ERROR, message, source=Source(file=name))
        return Policy(), report.findings
    return _Reading(name, text, report).policy(tables), report.findings


class _Reading:
    """One policy file being read: where its keys stand, and what was found."""

    def __init__(self, file: str, text: str, report: Report) -> None:
        self.file, self.text, self.report = file, text, report

    def policy(self, tables: Mapping[str, Any]) -> Policy:
        policy = Policy()
        sections = {field.name: field.kind for field in section_fields(Policy) if field.is_section}
        top = {key: value for key, value in tables.items() if key not in sections}
        known = [key for field in section_fields(Policy) if not field.is_section for key in field.keys]
        policy = replace(policy, **self._values("", top, known, policy, sections))
        for name in (name for name in sections if name in tables):
            section, table = getattr(policy, name), tables[name]
            if not isinstance(table, Mapping):
                self._refuse(name, f"expected a section [{name}], not {table!r}")
                continue
            known = [key for field in section_fields(sections[name]) for key in field.keys]
            values = self._values(name, table, known, section, ())
            policy = replace(policy, **{name: replace(section, **values)})
        return self._with_possible_round(policy)

    def _values(
        self,
        section: str,
        table: Mapping[str, Any],
        known: list[PolicyKey],
        defaults: Any,
        other_keys: Iterable[str],
    ) -> dict[str, Any]:
        """Return the new values by field name, read from one section of the file."""
        by_key = {k.key: k for k in known}
        values: dict[str, Any] = {}
        written: dict[str, str] = {}
        for key, value in table.items():
            dotted = f"{section}.{key}" if section else key
            if key not in by_key:
                self._unknown(dotted, key, [*by_key, *other_keys])
                continue
            field = by_key[key].field.name
            if field in written:
                message = f"{dotted} and {written[field]} set the same value; keep one of them"
                self._add("policy-key-twice", dotted, message)
                values.pop(field, None)
                continue
            written[field] = dotted
            try:
                values[field] = _read(by_key[key], value, getattr(defaults, field))
            except ValueRefusedError as error:
                self._refuse(dotted, str(error))
        return values

    def _with_possible_round(self, policy: Policy) -> Policy:
        if policy.round.end_at_s > policy.round.start_at_s:
            return policy
        self._refuse("round.end_at", "the round must end after it starts")
        default = Policy().round
        return replace(
            policy,
            round=replace(policy.round, start_at_s=default.start_at_s, end_at_s=default.end_at_s),
        )

    def _unknown(self, dotted: str, key: str, known: list[str]) -> None:
        if dotted in _MOVED:
            self._add("policy-key-unknown", dotted, f"{dotted} is not a key of the policy any more; {_MOVED[dotted]}")
            return
        # a name without its unit: the unit to recommend comes first
        nearest = [name for name in known if name.startswith(f"{key}_")] or get_close_matches(
            key, known, n=1, cutoff=0.5
        )
        hint = f"did you mean {nearest[0]}?" if nearest else f"known keys: {', '.join(sorted(known))}"
        self._add("policy-key-unknown", dotted, f"{dotted} is not a key of the policy; {hint}")

    def _refuse(self, dotted: str, message: str) -> None:
        self._add("policy-value-refused", dotted, f"{dotted}: {message}; the default is used")

    def _add(self, code: Code, dotted: str, message: str) -> None:
        source = Source(file=self.file, row=_line_of(self.text, dotted), column=dotted)
        self.report.add(code, Severity.ERROR, message, source=source)


def _read(key: PolicyKey, value: Any, default: Any) -> Any:
    """Return the field's new value; a table by name is laid over the default one."""
    if not isinstance(default, Mapping):
        return key.read(value)
    is_by_ward = not default and not isinstance(value, Mapping)
    return {**default, **key.read({EVERYBODY: value} if is_by_ward else value)}


def _line_of(text: str, dotted: str) -> int | None:
    """Return the line on which a key or section stands, counted from 1; None where it is written another way."""
    *sections, last = dotted.split(".")
    section = ""
    for number, line in enumerate(text.splitlines(), start=1):
        bare = line.strip()
        if bare.startswith("["):
            section = bare.strip("[] ")
            if section == dotted:
                return number
        elif section == ".".join(sections) and bare.partition("=")[0].strip(" \"'") == last:
            return number
    return None
