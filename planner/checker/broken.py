"""What a rule gives back when it does not hold, and the code under which it is reported."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

from planner.finding_codes import Code
from planner.findings import Report, Severity

if TYPE_CHECKING:
    from planner.checker.facts import Facts


@dataclass(frozen=True, slots=True)
class Broken:
    """One place at which a rule does not hold: where, what was found, what was expected."""

    message: str
    order_ids: Iterable[str] = ()
    severity: Severity = Severity.ERROR

    def add_to(self, report: Report, rule: Callable[..., Any]) -> None:
        """Report this under the code of the rule."""
        report.add(code_of(rule), self.severity, self.message, order_ids=self.order_ids)


Rule = Callable[["Facts"], Iterator[Broken]]
"""A rule looks at the facts and yields every place at which it is broken."""


def code_of(rule: Callable[..., Any]) -> Code:
    """Return the finding code of a rule: its name with hyphens."""
    return cast(Code, rule.__name__.replace("_", "-"))
