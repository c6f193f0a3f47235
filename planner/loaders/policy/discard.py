"""Holds what the policy says of the discard tube against the discard tubes that the laboratory has."""

from __future__ import annotations

from dataclasses import replace

from planner.domain.catalogue import DISCARD_TUBE, Catalogue, SizeUse
from planner.domain.policy import Policy
from planner.findings import Report, Severity, Source
from planner.units import MICROLITRES_PER_ML, format_ml


def with_possible_discard(policy: Policy, catalogue: Catalogue, report: Report) -> Policy:
    """Return the policy with discard volumes that some discard tube of the catalogue holds.

    A volume that no size holds is refused with the sizes that exist; the default stands in, or the largest size
    where the default is too much as well. A catalogue without a discard tube leaves the policy as it is.
    """
    if DISCARD_TUBE not in catalogue.tubes:
        return policy
    tubes, default = policy.tubes, Policy().tubes
    sizes = catalogue.tubes[DISCARD_TUBE].sizes
    adult = _possible(
        "discard_adult_ml",
        tubes.discard_adult_ul,
        default.discard_adult_ul,
        [size.draw_ul for size in sizes if size.use in (SizeUse.ADULT, SizeUse.SMALL)],
        report,
    )
    child = _possible(
        "discard_child_ml",
        tubes.discard_child_ul,
        default.discard_child_ul,
        [size.draw_ul for size in sizes],
        report,
    )
    return replace(policy, tubes=replace(tubes, discard_adult_ul=adult, discard_child_ul=child))


def _possible(key: str, wanted_ul: int, default_ul: int, sizes_ul: list[int], report: Report) -> int:
    largest_ul = max(sizes_ul, default=0)
    if 0 < wanted_ul <= largest_ul:
        return wanted_ul
    used_ul = min(default_ul, largest_ul)
    listed = ", ".join(f"{ul / MICROLITRES_PER_ML:g}" for ul in sorted(set(sizes_ul))) or "none"
    message = (
        f"tubes.{key}: no discard tube takes {format_ml(wanted_ul)} mL (sizes of {DISCARD_TUBE} in mL: {listed}); "
        f"{format_ml(used_ul)} mL is used. Change it, or add the size to the tubes table"
    )
    report.add(
        "policy-value-refused",
        Severity.ERROR,
        message,
        source=Source(file="policy.toml", column=f"tubes.{key}"),
    )
    return used_ul
