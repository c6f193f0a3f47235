"""The wards that a policy names, brought to the patients' spelling; a ward that no patient has is a finding."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TypeVar

from planner.domain.policy import Policy
from planner.findings import Report, Severity, Source
from planner.loaders.frame.places import place_key
from planner.loaders.policy.load import EVERY_WARD

_Value = TypeVar("_Value")


def with_ward_names(policy: Policy, wards: Iterable[str], report: Report) -> Policy:
    """Return the policy with quiet hours and needed-by times under the names that the patients' wards have.

    Case and blanks do not count, as in the look-up of places.
    """
    named = sorted(set(wards))
    told = policy.round
    changed = replace(
        told,
        quiet_hours=_renamed("quiet_hours", told.quiet_hours, named, report),
        needed_by_s=_renamed("needed_by", told.needed_by_s, named, report),
    )
    return replace(policy, round=changed)


def _renamed(key: str, by_ward: Mapping[str, _Value], wards: Iterable[str], report: Report) -> dict[str, _Value]:
    found: dict[str, _Value] = {}
    for name, value in by_ward.items():
        same = [ward for ward in wards if ward == name or (ward not in by_ward and place_key(ward) == place_key(name))]
        if not same and name != EVERY_WARD:
            message = f"round.{key} names ward {name!r}, in which no patient of the round is; check the ward's name"
            where = Source(file="policy.toml", column=f"round.{key}")
            report.add("policy-ward-unknown", Severity.WARNING, message, source=where)
        found.update(dict.fromkeys(same or [name], value))
    return found
