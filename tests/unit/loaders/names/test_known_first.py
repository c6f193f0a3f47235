"""What is known without a table of names goes before the names, which are compared without signs."""

from __future__ import annotations

from planner.domain.orders import PatientId, Precaution
from planner.domain.site_names import NameKind, SiteName
from planner.findings import Report, Source
from planner.loaders import load
from planner.loaders.build.patient_cells import PatientCells
from planner.loaders.build.patient_drafts import PatientDraft
from planner.loaders.names.known import SiteNames
from planner.loaders.tables.records import Record
from planner.loaders.values.fields import Reading
from planner.units import RoundClock
from tests.builders import DAY
from tests.unit.loaders.names.test_names_of_round import LIST, names_table, write


def test_precaution_that_is_known_is_worn_whatever_a_name_compared_without_signs_says():
    """Names that reach the reader all the same, as those of a plan that was kept: what is known goes first."""
    names = [
        SiteName(kind=NameKind.PRECAUTION, found=found, means="none") for found in ("Contact precautions", "MRSA+")
    ]
    cells = ("contact Precautions", "MRSA", "none")
    worn = []
    for cell in cells:
        record = Record({"precautions": cell}, Source(file="orders.csv", row=2), {})
        draft = PatientDraft(id=PatientId("P1"), records=[record])
        reading = Reading(Report(), {}, RoundClock(DAY, "UTC"), site_names=SiteNames(names))
        worn.append(PatientCells(draft, reading).precautions()[0])
    assert worn == [{Precaution.CONTACT}, {Precaution.CONTACT}, set()]


def test_sure_test_is_not_hidden_by_a_name_compared_without_signs(tmp_path):
    folder = write(tmp_path / "r", LIST.replace("Kaliumwert", "CRP"))
    write(folder, names_table("test,CR/P,orders,,POT,"), "names.csv")
    loaded = load(folder)
    assert {o.test for o in loaded.problem.orders} == {"CRP"}
    write(folder, LIST.replace("Kaliumwert", "CR/P"))
    assert {o.test for o in load(folder).problem.orders} == {"POT"}
