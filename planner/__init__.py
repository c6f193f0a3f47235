"""Plans a ward blood-collection round: tube sets, bed visits and a printable round sheet.

The public surface: what the names in ``__all__`` do, their results and their errors. Each is loaded when it is first
used, so that ``import planner`` is quick.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

__version__ = "0.1.0"

if TYPE_CHECKING:
    from planner.domain.catalogue import LabTest as LabTest
    from planner.domain.hazards import Hazard as Hazard
    from planner.domain.revisions.changes import NotUnderstoodError as NotUnderstoodError
    from planner.errors import CheckRefusedError as CheckRefusedError
    from planner.errors import InputError as InputError
    from planner.errors import OutputError as OutputError
    from planner.errors import PlanFileError as PlanFileError
    from planner.errors import PlannerError as PlannerError
    from planner.errors import RequestError as RequestError
    from planner.errors import SolverError as SolverError
    from planner.findings import Finding as Finding
    from planner.findings import Severity as Severity
    from planner.findings import Source as Source
    from planner.library.alternatives import Alternative as Alternative
    from planner.library.alternatives import alternatives as alternatives
    from planner.library.checking import InputCheck as InputCheck
    from planner.library.checking import PlanCheck as PlanCheck
    from planner.library.checking import check as check
    from planner.library.explanations import Explanation as Explanation
    from planner.library.explanations import ShareExplanation as ShareExplanation
    from planner.library.explanations import explain as explain
    from planner.library.explanations import explain_share as explain_share
    from planner.library.loading import LoadedRound as LoadedRound
    from planner.library.loading import load as load
    from planner.library.naming import RoundNames as RoundNames
    from planner.library.naming import names as names
    from planner.library.news import News as News
    from planner.library.planning import RoundPlan as RoundPlan
    from planner.library.planning import plan as plan
    from planner.library.replanning import replan as replan
    from planner.library.sheets import write_sheets as write_sheets
    from planner.library.tables import SignOff as SignOff
    from planner.library.tables import catalogue as catalogue
    from planner.library.tables import default_policy as default_policy
    from planner.library.tables import hazards as hazards
    from planner.library.tables import new as new
    from planner.library.tables import sign_off as sign_off
    from planner.library.writing import write as write
    from planner.library.written import Revision as Revision
    from planner.library.written import read as read

_HOMES = {
    "Alternative": "library.alternatives",
    "CheckRefusedError": "errors",
    "Explanation": "library.explanations",
    "Finding": "findings",
    "Hazard": "domain.hazards",
    "InputCheck": "library.checking",
    "InputError": "errors",
    "LabTest": "domain.catalogue",
    "LoadedRound": "library.loading",
    "News": "library.news",
    "NotUnderstoodError": "domain.revisions.changes",
    "OutputError": "errors",
    "PlanCheck": "library.checking",
    "PlanFileError": "errors",
    "PlannerError": "errors",
    "RequestError": "errors",
    "Revision": "library.written",
    "RoundNames": "library.naming",
    "RoundPlan": "library.planning",
    "Severity": "findings",
    "ShareExplanation": "library.explanations",
    "SignOff": "library.tables",
    "SolverError": "errors",
    "Source": "findings",
    "alternatives": "library.alternatives",
    "catalogue": "library.tables",
    "check": "library.checking",
    "default_policy": "library.tables",
    "explain": "library.explanations",
    "explain_share": "library.explanations",
    "hazards": "library.tables",
    "load": "library.loading",
    "names": "library.naming",
    "new": "library.tables",
    "plan": "library.planning",
    "read": "library.written",
    "replan": "library.replanning",
    "sign_off": "library.tables",
    "write": "library.writing",
    "write_sheets": "library.sheets",
}
"""The public names, each with the module that holds it."""

__all__ = [
    "Alternative",
    "CheckRefusedError",
    "Explanation",
    "Finding",
    "Hazard",
    "InputCheck",
    "InputError",
    "LabTest",
    "LoadedRound",
    "News",
    "NotUnderstoodError",
    "OutputError",
    "PlanCheck",
    "PlanFileError",
    "PlannerError",
    "RequestError",
    "Revision",
    "RoundNames",
    "RoundPlan",
    "Severity",
    "ShareExplanation",
    "SignOff",
    "SolverError",
    "Source",
    "__version__",
    "alternatives",
    "catalogue",
    "check",
    "default_policy",
    "explain",
    "explain_share",
    "hazards",
    "load",
    "names",
    "new",
    "plan",
    "read",
    "replan",
    "sign_off",
    "write",
    "write_sheets",
]

if not TYPE_CHECKING:  # a module with __getattr__ has any name, as far as mypy knows

    def __getattr__(name: str) -> object:
        """Return a public name, its module loaded now."""
        if (home := _HOMES.get(name)) is None:
            raise AttributeError(f"module 'planner' has no attribute {name!r}")
        value = getattr(import_module(f"planner.{home}"), name)
        globals()[name] = value
        return value

    def __dir__() -> list[str]:
        """Return the public names and what is loaded."""
        return sorted({*globals(), *__all__})
