"""A resource whose type does not say that it is an order, but which may be one, is never only a note."""

from __future__ import annotations

import pkgutil
from importlib import import_module

import pytest

from planner.findings import unread
from planner.loaders.messages.fhir.kinds import KINDS, STATES_INTENT
from tests.unit.loaders.messages.fhir.ward import on_ward, read, request
from tests.unit.loaders.messages.hl7.ward import planned, reasons

pytestmark = pytest.mark.slow


def standard_types(package: str) -> dict[str, set[str]]:
    """Return the resource types of a release of FHIR with their elements, as fhir.resources has them."""
    found = {}
    for module in pkgutil.iter_modules(import_module(package).__path__):
        if module.ispkg or module.name in ("domainresource", "resource", "canonicalresource", "metadataresource"):
            continue
        for name, kind in vars(import_module(f"{package}.{module.name}")).items():
            is_own = isinstance(kind, type) and name.lower() == module.name
            if is_own and any(base.__name__ == "Resource" for base in kind.__mro__):
                found[name] = set(kind.model_fields)
    return found


def test_types_are_those_of_the_standard():
    types = [standard_types(name) for name in ("fhir.resources", "fhir.resources.R4B")]  # R5 and R4B
    assert min(map(len, types)) > 130
    assert {name for found in types for name in found} <= KINDS
    stating = {name for found in types for name, elements in found.items() if "intent" in elements}
    assert stating == STATES_INTENT


@pytest.mark.parametrize("kind", ["PLAC", "", "servicerequest", "ServiceRequests", "Service Request", "x" * 300])
def test_an_order_of_an_unknown_type_is_set_aside(tmp_path, kind):
    loaded = read(tmp_path, on_ward(request("N1"), request("N2", resourceType=kind)))
    assert set(planned(loaded)) == {"N1"}
    assert reasons(loaded) == {"N2": "unreadable"}
    assert loaded.num_orders_read == 2


@pytest.mark.parametrize("kind", ["Patient", "Encounter", "Specimen", "Appointment", "Condition"])
def test_an_order_under_the_type_of_something_else_is_set_aside(tmp_path, kind):
    loaded = read(tmp_path, on_ward(request("N1"), request("N2", resourceType=kind)))
    assert set(planned(loaded)) == {"N1"}
    assert reasons(loaded) == {"N2": "unreadable"}


def test_an_unknown_type_that_states_no_intent_needs_a_decision(tmp_path):
    loaded = read(tmp_path, on_ward(request("N1"), {"resourceType": "Bloodwork", "id": "x7"}))
    assert [f.code for f in unread(loaded.findings)] == ["resource-unreadable"]
    assert "x7" in str(unread(loaded.findings)[0])


@pytest.mark.parametrize("kind", ["Task", "CarePlan", "Condition", "Provenance"])
def test_a_type_of_the_standard_that_is_not_used_needs_no_decision(tmp_path, kind):
    stated = {"intent": "order"} if kind in STATES_INTENT else {}
    loaded = read(tmp_path, on_ward(request("N1"), {"resourceType": kind, "id": "x7", **stated}))
    assert set(planned(loaded)) == {"N1"}
    assert not unread(loaded.findings)
    assert not reasons(loaded)
