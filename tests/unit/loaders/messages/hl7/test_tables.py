"""Whole code tables of HL7 v2: 0119, 0038, 0065, 0485, 0009 and 0004, each code with what becomes of its order.

The codes are those of HL7 v2.5.1, chapter 2.C (tables) and chapter 4 (order entry); later codes are marked.
"""

from __future__ import annotations

import pytest

from tests.helpers import codes
from tests.unit.loaders.messages.hl7.ward import message, order, planned, read, reasons

# HL7 table 0119, order control, v2.5.1; NR, CP and MC are of later versions. Chapter 4.5.1.1 says what each does:
# NW new, RO replacement, CH child, SN send number: an order. XO, XX: a change. RP, RQ, RU: replaced. CA, OC, DC, OD,
# CR, DR: no longer wanted. HD, OH, HR: on hold. RL, OE, OR: released. PR: an observation of the past. PA: a parent,
# whose children are drawn. OF, OP, PY, RF: pharmacy. SC: a state. The rest answers, reports an error or links.
CONTROL = {
    **dict.fromkeys(("NW", "RO", "CH", "SN", "XO", "XX", "RL", "OE", "OR"), None),
    **dict.fromkeys(("RP", "RQ", "RU"), "replaced"),
    **dict.fromkeys(("CA", "OC", "DC", "OD", "CR", "DR"), "cancelled"),
    **dict.fromkeys(("HD", "OH", "HR"), "on-hold"),
    "PR": "prior-result",
    **dict.fromkeys(("OF", "OP", "PY", "RF"), "not-laboratory"),
    **dict.fromkeys(
        ("PA", "SC", "AF", "CN", "DE", "DF", "FU", "LI", "NA", "NR", "OK", "RE", "RR", "SR", "SS", "UA", "UC", "UD",
         "UF", "UH", "UM", "UN", "UR", "UX", "XR", "CP", "MC"),
        "not-an-order",
    ),
}  # fmt: skip


@pytest.mark.parametrize("control", CONTROL)
def test_order_control(tmp_path, control):
    loaded = read(tmp_path, message(order(control=control)))
    assert reasons(loaded) == ({"N1": CONTROL[control]} if CONTROL[control] else {})
    assert "order-control-unknown" not in codes(loaded)


@pytest.mark.parametrize("control", ["nw", "Nw"])
def test_order_control_in_small_letters(tmp_path, control):
    assert set(planned(read(tmp_path, message(order(control=control))))) == {"N1"}


# HL7 table 0038, order status, v2.5.1, whole: A some but not all results available, CA cancelled, CM completed,
# DC discontinued, ER error, HD on hold, IP in process, RP replaced, SC in process, scheduled. Where there is a result
# (A, CM) the specimen was drawn.
STATES = {
    "A": "already-drawn", "CA": "cancelled", "CM": "already-drawn", "DC": "cancelled", "ER": "unreadable",
    "HD": "on-hold", "IP": None, "RP": "cancelled", "SC": None,
}  # fmt: skip


@pytest.mark.parametrize("state", STATES)
def test_order_status(tmp_path, state):
    loaded = read(tmp_path, message(order(orc={"f5": state})))
    assert reasons(loaded) == ({"N1": STATES[state]} if STATES[state] else {})
    assert "order-state-unknown" not in codes(loaded)


def test_a_state_that_is_no_code_is_said(tmp_path):
    loaded = read(tmp_path, message(order(orc={"f5": "NW"})))
    assert set(planned(loaded)) == {"N1"}
    assert "order-state-unknown" in codes(loaded)


# HL7 table 0065, specimen action code, v2.5.1, whole: A add ordered tests to the existing specimen, G generated
# (reflex) order, L laboratory to obtain the specimen, O obtained by a service other than the laboratory, P pending
# specimen, R revised order, S schedule the tests specified below. C (cancel) is met in messages, and not of the table.
ACTIONS = {
    "A": "add-on", "G": "add-on", "L": None, "O": "drawn-by-others", "P": None, "R": None, "S": None, "C": "cancelled",
}  # fmt: skip


@pytest.mark.parametrize("action", ACTIONS)
def test_specimen_action(tmp_path, action):
    loaded = read(tmp_path, message(order(obr={"f11": action})))
    assert reasons(loaded) == ({"N1": ACTIONS[action]} if ACTIONS[action] else {})
    # only L says that we draw; P, R and S leave it open, which is said
    assert ("collection-assumed" in codes(loaded)) == (action in ("P", "R", "S"))


# HL7 table 0485, extended priority codes, v2.5.1, whole: S stat, A asap, R routine, P pre-op, C callback, T timing
# critical, TS<n> TM<n> TH<n> TD<n> TW<n> TL<n> timing critical within n seconds, minutes, hours, days, weeks, months,
# PRN as needed. Timed is no priority of its own in FHIR's words: the order is routine and keeps its time.
PRIORITIES = {
    "S": "stat", "A": "asap", "R": "routine", "P": "urgent", "C": "routine", "T": "routine", "TS30": "routine",
    "TM10": "routine", "TH2": "routine", "TD1": "routine", "TW1": "routine", "TL1": "routine",
}  # fmt: skip


@pytest.mark.parametrize("code", PRIORITIES)
def test_priority(tmp_path, code):
    loaded = read(tmp_path, message(order(tq1={"f9": code})))
    found = planned(loaded)["N1"]
    # the time of 06:00 stands in TQ1-7
    assert (found.priority.value, found.collect_at_s) == (PRIORITIES[code], 6 * 3600)
    assert "unknown-priority" not in codes(loaded)
    # how near the time is to be kept is not reckoned with, so it is said
    assert ("timing-tolerance" in codes(loaded)) == (len(code) > 1)


def test_as_needed_is_no_order_for_now(tmp_path):
    assert reasons(read(tmp_path, message(order(tq1={"f9": "PRN"})))) == {"N1": "time-missing"}


# HL7 table 0009, ambulatory status, v2.5.1, whole. A0 no functional limitations and A9 functional level unknown tell
# nothing; all others are shown. A finding goes with those that bear on identification (A3 comatose, A4 disoriented,
# A6 hearing, A7 speech, A8 language) or on the arm (B2 lines, B3 amputee, B4 mastectomy): common practice, no source.
AMBULATORY = ["A0", "A1", "A2", "A3", "A4", "A5", "A6", "A7", "A8", "A9", "B1", "B2", "B3", "B4", "B5", "B6"]
TO_HEED = {"A3", "A4", "A6", "A7", "A8", "B2", "B3", "B4"}


def visit(**fields: str) -> str:
    """Return PV1 of an inpatient with more fields."""
    values = {1: "1", 2: "I", 3: "Birch^04^A^HILL", **{int(k[1:]): v for k, v in fields.items()}}
    return "|".join(["PV1", *(values.get(i, "") for i in range(1, max(values) + 1))])


def alerts(loaded):
    """Return the alerts of the only patient."""
    (found,) = loaded.problem.patients.values()
    return found.alerts


@pytest.mark.parametrize("code", AMBULATORY)
def test_ambulatory_status_is_shown_and_never_acted_upon(tmp_path, code):
    loaded = read(tmp_path, message(order(), visit=visit(f15=code)))
    assert set(planned(loaded)) == {"N1"}
    assert any(f"ambulatory status {code}: " in alert for alert in alerts(loaded)) == (code not in ("A0", "A9"))
    assert ("ambulatory-status" in codes(loaded)) == (code in TO_HEED)


def test_ambulatory_status_repeats_and_what_is_no_code_is_shown_as_it_stands(tmp_path):
    loaded = read(tmp_path, message(order(), visit=visit(f15="B6~B4~X7")))
    shown = "; ".join(alerts(loaded))
    assert "B6: pregnant" in shown
    assert "B4: mastectomy" in shown
    assert "X7: no code of HL7 table 0009" in shown
    assert "ambulatory-status" in codes(loaded)


def test_whether_a_patient_is_a_vip_is_nobodys_business(tmp_path):
    # PV1-16, VIP indicator (HL7 table 0099, the site's own): it changes no draw, so it goes nowhere
    loaded = read(tmp_path, message(order(), visit=visit(f16="VERYVIP")))
    assert "VERYVIP" not in f"{loaded.problem} {[str(f) for f in loaded.findings]}"


# HL7 table 0004, patient class, v2.5.1, whole: E emergency, I inpatient, O outpatient, P preadmit, R recurring patient,
# B obstetrics, C commercial account, N not applicable, U unknown. Who may not lie in the bed is said.
@pytest.mark.parametrize("kind", ["E", "I", "O", "P", "R", "B", "C", "N", "U", ""])
def test_patient_class(tmp_path, kind):
    loaded = read(tmp_path, message(order(), visit=f"PV1|1|{kind}|Birch^04^A^HILL"))
    assert set(planned(loaded)) == {"N1"}
    assert ("visit-class" in codes(loaded)) == (kind in ("O", "P", "R", "C"))


def test_a_move_that_is_pending_is_said(tmp_path):
    # PV2-1, prior pending location
    loaded = read(tmp_path, message(order(), visit="PV1|1|I|Birch^04^A^HILL\rPV2|Oak^01^B"))
    assert "visit-class" in codes(loaded)
    assert set(planned(loaded)) == {"N1"}
