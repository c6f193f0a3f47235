"""The life of an order over messages (HL7 table 0119, order control, and table 0038, order status)."""

from __future__ import annotations

import pytest

from tests.helpers import codes
from tests.unit.loaders.messages.hl7.ward import PATIENT, message, order, planned, read, reasons, segment

NEW = message(order("N1"), control="M1", sent="20260309180000+0100")
OTHER = message(order("N2", test="CREA^Creatinine^L"), control="M2", sent="20260309180100+0100")


def later(control: str, number: str = "N1", **more: object) -> str:
    return message(order(number, control=control, **more), control=f"L{control}", sent="20260309200000+0100")


@pytest.mark.parametrize("control", ["NW", "RO", "CH", "SN"])
def test_new_orders_are_planned(tmp_path, control):
    assert set(planned(read(tmp_path, message(order(control=control))))) == {"N1"}


@pytest.mark.parametrize("control", ["CA", "OC", "DC", "OD", "CR", "DR"])
def test_a_cancelled_order_is_not_drawn_and_others_are(tmp_path, control):
    loaded = read(tmp_path, NEW + OTHER + later(control))
    assert set(planned(loaded)) == {"N2"}
    assert reasons(loaded) == {"N1": "cancelled"}


def test_the_time_of_sending_counts_not_the_place_in_the_file(tmp_path):
    assert reasons(read(tmp_path, later("CA") + NEW)) == {"N1": "cancelled"}


def test_a_cancellation_needs_no_request_segment(tmp_path):
    text = message(segment("ORC", f1="CA", f2="N1"), control="L", sent="20260309200000+0100")
    assert reasons(read(tmp_path, NEW + text)) == {"N1": "cancelled"}


def test_a_cancellation_by_the_laboratorys_number_finds_the_order(tmp_path):
    new = message(order("N1", orc={"f3": "F77"}))
    text = message(segment("ORC", f1="OC", f3="F77"), control="L", sent="20260309200000+0100")
    assert reasons(read(tmp_path, new + text)) == {"N1": "cancelled"}


@pytest.mark.parametrize("control", ["XO", "XX"])
def test_a_change_takes_the_place_of_what_it_states(tmp_path, control):
    loaded = read(tmp_path, NEW + later(control, start="20260310070000+0100"))
    # one order, drawn at 07:00 = 25,200 s after midnight in the messages' own zone
    assert planned(loaded)["N1"].collect_at_s == 25_200
    assert loaded.num_orders_read == 1
    assert "order-changed" in codes(loaded)


def test_a_change_leaves_what_it_does_not_state(tmp_path):
    text = message(segment("ORC", f1="XO", f2="N1"), segment("TQ1", f1="1", f9="S"), control="L", sent="20260309200000")
    loaded = read(tmp_path, NEW + text)
    order_ = planned(loaded)["N1"]
    assert (order_.test, order_.collect_at_s, order_.priority.value) == ("CBC", 21_600, "stat")


def test_a_replacement_drops_the_old_order_for_the_new(tmp_path):
    text = message(order("N1", control="RP"), order("N9", control="RO"), control="L", sent="20260309200000+0100")
    loaded = read(tmp_path, NEW + text)
    assert set(planned(loaded)) == {"N9"}
    assert reasons(loaded) == {"N1": "replaced"}


@pytest.mark.parametrize("control", ["HD", "OH", "HR"])
def test_an_order_on_hold_waits_until_it_is_released(tmp_path, control):
    loaded = read(tmp_path, NEW + later(control))
    assert reasons(loaded) == {"N1": "on-hold"}
    released = message(order("N1", control="RL"), control="R", sent="20260309210000+0100")
    assert set(planned(read(tmp_path, NEW + later(control) + released))) == {"N1"}


@pytest.mark.parametrize(
    ("state", "reason"),
    [
        ("CA", "cancelled"),
        ("DC", "cancelled"),
        ("RP", "cancelled"),
        ("CM", "already-drawn"),
        ("HD", "on-hold"),
        ("ER", "unreadable"),
    ],
)
def test_the_state_ends_an_order_even_where_the_control_code_says_new(tmp_path, state, reason):
    assert reasons(read(tmp_path, message(order(orc={"f5": state})))) == {"N1": reason}


@pytest.mark.parametrize("state", ["IP", "SC"])
def test_the_other_states_change_nothing(tmp_path, state):
    assert set(planned(read(tmp_path, message(order(orc={"f5": state}))))) == {"N1"}


def test_a_state_message_tells_of_an_order_placed_before(tmp_path):
    text = message(segment("ORC", f1="SC", f2="N1", f5="CM"), control="L", sent="20260309200000+0100")
    assert reasons(read(tmp_path, NEW + text)) == {"N1": "already-drawn"}


@pytest.mark.parametrize("control", ["XO", "RL"])
def test_what_is_said_of_an_order_never_placed_is_planned_with_a_warning(tmp_path, control):
    loaded = read(tmp_path, later(control))
    assert set(planned(loaded)) == {"N1"}
    assert "order-not-known" in codes(loaded)


def test_a_state_of_an_order_never_placed_is_listed_and_not_planned(tmp_path):
    loaded = read(tmp_path, later("SC"))
    assert reasons(loaded) == {"N1": "not-an-order"}
    assert "order-not-known" in codes(loaded)


@pytest.mark.parametrize("control", ["OF", "OP", "PY", "RF"])
def test_pharmacy_codes_are_set_aside(tmp_path, control):
    assert reasons(read(tmp_path, message(order(control=control)))) == {"N1": "not-laboratory"}


@pytest.mark.parametrize("control", ["OK", "UA", "NA", "RE", "UX"])
def test_answers_are_no_orders(tmp_path, control):
    assert reasons(read(tmp_path, message(order(control=control)))) == {"N1": "not-an-order"}
    assert set(planned(read(tmp_path, NEW + later(control)))) == {"N1"}


def test_a_parent_is_no_draw_but_its_children_are(tmp_path):
    loaded = read(tmp_path, message(order("P1", control="PA"), order("C1", control="CH")))
    assert set(planned(loaded)) == {"C1"}
    assert reasons(loaded) == {"P1": "not-an-order"}


def test_an_unknown_control_code_is_reported_and_plans_nothing(tmp_path):
    loaded = read(tmp_path, message(order(control="QQ")))
    assert reasons(loaded) == {"N1": "unreadable"}
    assert "order-control-unknown" in codes(loaded)


def test_an_order_without_a_control_segment_is_planned_with_a_warning(tmp_path):
    loaded = read(tmp_path, message(order("N1")[1:]))
    assert set(planned(loaded)) == {"N1"}
    assert "order-control-missing" in codes(loaded)


def test_an_order_number_with_two_patients_is_set_aside_on_both_sides(tmp_path):
    other = message(order("N1"), control="M9", patient=PATIENT.replace("0000417", "0000999").replace("Ada", "Eva"))
    loaded = read(tmp_path, NEW + other)
    assert set(reasons(loaded).values()) == {"duplicate-number"}
    assert loaded.num_orders_read == 2
    assert "order-conflict" in codes(loaded)


def test_two_authorities_may_give_the_same_order_number(tmp_path):
    other = message(order("N1^ICU", test="CREA"), control="M9")
    loaded = read(tmp_path, message(order("N1^WARDS")) + other)
    assert set(planned(loaded)) == {"N1@WARDS", "N1@ICU"}


def test_an_order_number_placed_twice_with_other_contents_counts_as_the_later_states_it(tmp_path):
    loaded = read(tmp_path, NEW + later("NW", start="20260310080000+0100"))
    assert planned(loaded)["N1"].collect_at_s == 28_800
    assert "order-sent-twice" in codes(loaded)


@pytest.mark.slow
def test_one_number_over_two_tests_is_two_orders(tmp_path):
    second = segment("OBR", f1="2", f2="N1", f4="CREA^Creatinine^L")
    loaded = read(tmp_path, message(order("N1", more=[second])))
    assert {o.test for o in planned(loaded).values()} == {"CBC", "CREA"}


def test_a_second_control_segment_is_a_second_order_never_an_old_result(tmp_path):
    # In v2.5.1 the grammar allows both readings of a second ORC/OBR; only the next order is meant.
    loaded = read(tmp_path, message(order("N1"), order("N2", test="CREA")))
    assert set(planned(loaded)) == {"N1", "N2"}


def test_results_after_a_second_patient_segment_are_copies(tmp_path):
    prior = [PATIENT, segment("OBR", f2="N0", f4="CBC", f25="F"), segment("OBX", f2="NM", f3="718-7", f5="9", f11="F")]
    loaded = read(tmp_path, message(order("N1"), prior))
    assert set(planned(loaded)) == {"N1"}
    assert reasons(loaded) == {"N0": "prior-result"}


def test_a_request_with_results_and_no_number_of_its_own_is_a_copy(tmp_path):
    prior = [segment("OBR", f4="CBC", f25="F"), segment("OBX", f2="NM", f3="718-7", f5="9", f11="F")]
    loaded = read(tmp_path, message(order("N1"), prior))
    assert set(planned(loaded)) == {"N1"}
    assert list(reasons(loaded).values()) == ["prior-result"]


def test_orders_marked_as_prior_results_are_copies(tmp_path):
    assert reasons(read(tmp_path, message(order(control="PR")))) == {"N1": "prior-result"}


def test_orders_without_any_number_go_by_their_message(tmp_path):
    text = message(order("", test="CBC"), order("", test="CREA"), control="M5")
    loaded = read(tmp_path, text)
    assert set(planned(loaded)) == {"M5.1", "M5.2"}
    assert "number-missing" in codes(loaded)


def test_every_mention_of_an_order_is_accounted_for(tmp_path):
    loaded = read(tmp_path, NEW + OTHER + NEW, later("XO") + later("QQ", "N7") + later("OK", "N2") + later("CA", "N2"))
    note = next(f for f in loaded.findings if f.code == "message-totals")
    # N1 and N2 new, N1 again (same control id), N1 changed, N7 unknown, N2 answered, N2 cancelled: 7 mentions
    assert "7 messages" in note.message or "7 HL7 v2 messages" in note.message
    assert "with 7 requests: 1 answers, 1 changes, 2 orders, 1 repeats, 1 set aside, 1 updates" in note.message
    assert loaded.num_orders_read == 3
    assert len(planned(loaded)) + len(reasons(loaded)) == 3
