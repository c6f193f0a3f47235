"""The built-in tables as ``import planner`` offers them, a table to fill in, and a laboratory's word on its own."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from planner.domain.catalogue import LabTest
from planner.domain.hazards import Hazard
from planner.errors import InputError, RequestError
from planner.exporters.files import write_atomic
from planner.exporters.workbook.starter import starter_workbook
from planner.findings import Finding, Report, Severity
from planner.library.printing import print_time
from planner.loaders.catalogue.hazards import load_hazards
from planner.loaders.catalogue.load import load_catalogue
from planner.loaders.catalogue.lookup import TestLookup
from planner.loaders.catalogue.sign_off import SIGN_OFF_FILE, sign_off_text
from planner.loaders.policy.default_text import default_policy_text
from planner.loaders.site_catalogue import site_catalogue

__all__ = ["Hazard", "LabTest", "SignOff", "catalogue", "default_policy", "hazards", "new", "sign_off"]

STARTER_FILE = "round.xlsx"


@dataclass(frozen=True, slots=True, kw_only=True)
class SignOff:
    """A laboratory's confirmation as it was written: its file, and how many values it covers."""

    file: Path
    num_tests: int
    num_tubes: int
    findings: tuple[Finding, ...]


def new(folder: str | Path) -> Path:
    """Write a starter workbook and return its path.

    Parameters
    ----------
    folder
        Where it is written as ``round.xlsx``; made if it is not there.

    Raises
    ------
    RequestError
        If the folder has one already: it may be filled in.
    OutputError
        If it cannot be written.
    """
    path = Path(folder) / STARTER_FILE
    if path.exists():
        raise RequestError(f"{path} is there already; name another folder, or move it away")
    built_in, _ = load_catalogue()
    write_atomic(path, starter_workbook(built_in.tests.values(), built_in.tubes))
    return path


def catalogue(words: Iterable[str] = ()) -> tuple[LabTest, ...]:
    """Return the tests of the built-in catalogue that have all ``words`` in code, LOINC code, name or section.

    First come those that the words as a whole name (a code, a name in daily use), then the others by code. Volumes are
    in microlitres, times in seconds.

    Parameters
    ----------
    words
        In any case and order. Default: every test.
    """
    built_in, _ = load_catalogue()
    wanted = [word.casefold() for word in words]
    meaning = TestLookup(built_in).meaning(" ".join(wanted)) if wanted else None
    meant = {code: built_in.tests[code] for code in meaning.tests} if meaning else {}
    for code, test in sorted(built_in.tests.items()):
        text = f"{code} {test.name} {test.loinc} {test.loinc_name} {test.section}".casefold()
        if all(word in text for word in wanted):
            meant.setdefault(code, test)
    return tuple(meant.values())


def default_policy() -> str:
    """Return the default policy as the text of a ``policy.toml``, each number with its meaning, unit and range."""
    return default_policy_text()


def hazards(words: Iterable[str] = ()) -> tuple[Hazard, ...]:
    """Return the hazards of a collection round that have all ``words``, the most severe first.

    Parameters
    ----------
    words
        In any case and order. Default: every hazard.
    """
    wanted = [word.casefold() for word in words]
    found = [hazard for hazard in load_hazards() if all(word in hazard.text.casefold() for word in wanted)]
    return tuple(sorted(found, key=lambda hazard: -hazard.severity))


def sign_off(name: str, site: str | Path) -> SignOff:
    """Write that ``name`` confirms, for the laboratory, all tube and stability values that a round of ``site`` uses.

    Parameters
    ----------
    name
        The person of the laboratory who confirms them.
    site
        Folder with the site's tables of tests and tubes, or a round.

    Raises
    ------
    RequestError
        If nobody is named, or ``site`` is not there.
    InputError
        If a row of the site's tables is wrong: ``findings`` has all of them, and nothing is written.
    OutputError
        If the file cannot be written.
    """
    site = Path(site)
    if not name.strip():
        raise RequestError("say who confirms the values", "sign-off")
    if not site.exists():
        raise RequestError(f"there is no folder or file {site.name}", "site")
    report = Report()
    in_use = site_catalogue(site, report)
    findings = tuple(report)
    if any(finding.severity is Severity.ERROR for finding in findings):
        raise InputError("not signed off: put the rows above right first", findings)
    file = (site if site.is_dir() else site.parent) / SIGN_OFF_FILE
    write_atomic(file, sign_off_text(in_use, name.strip(), print_time()).encode())
    return SignOff(file=file, num_tests=len(in_use.tests), num_tubes=len(in_use.tubes), findings=findings)
