"""Arms that free texts bar: as they are written in alerts and notes (common practice, no source; texts are ours)."""

from __future__ import annotations

import pytest

from planner.domain.orders import Arm
from planner.loaders.values.arm_words import arms_said

LEFT, RIGHT, BOTH, NONE = frozenset({Arm.LEFT}), frozenset({Arm.RIGHT}), frozenset(Arm), frozenset[Arm]()


@pytest.mark.parametrize(
    "text",
    [
        "no BP or needles either arm",
        "NO BP/NEEDLES BOTH ARMS",
        "AV fistula L, PICC R",
        "AVF left; PICC right",
        "fistula L/R",
        "fistula left, right",
        "Bilateral mastectomy",
        "mastectomy bilat.",
        "s/p bilateral mastectomies 2019",
        "L arm fistula and R arm PICC",
        "Left arm: AV graft. Right arm: lymphoedema",
        "no venepuncture: both arms",
        "do not use either arm",
        "neither arm",
        "no arms",
        "both arms in plaster",
        "burns both arms",
        "avoid LUE and RUE",
        "DVT L arm, r/o DVT R arm",
        "Do not draw from left arm (mastectomy); right arm: midline",
        "no blood draws L arm (lymphoedema), fistula R forearm",
        "RUE PICC, LUE restricted",
        "bilat PICCs",
        "keine Blutentnahme beide Arme",
        "no sticks left or right arm",
        "hemiparesis left, shunt right",
        "left arm, fistula; right arm, PICC",
        "left arm only; PICC left",
        "no left arm, no right arm",
        "No needles left arm - fistula; right arm amputated",
        "Dialyseshunt links; Gips rechts",
        "dialysefistel beidseits",
        "FAV gauche, mastectomie droite",
    ],
)
def test_both_arms_are_barred(text: str) -> None:
    assert arms_said(text).barred == BOTH


@pytest.mark.parametrize(
    ("text", "arms"),
    [
        ("AV fistula L", LEFT),
        ("SVC obstruction - avoid arms", BOTH),
        ("avoid the arms", BOTH),
        ("SVCO", BOTH),
        ("SVC obstruction", BOTH),
        ("no SVC obstruction", NONE),
        ("ANC clearance L+R", BOTH),
        ("axilla clearance right", RIGHT),
        ("ANC 0.3", NONE),
        ("lumpectomy R breast 2019", RIGHT),
        ("breast cancer left", LEFT),
        ("mastectomía izquierda, left", LEFT),
        ("left arm only: graft right", RIGHT),
        ("left mastectomy: right arm only", LEFT),
        ("fistula left arm: use right", LEFT),
        ("right arm in plaster", RIGHT),
        ("no left arm", LEFT),
        ("no needles left arm only", LEFT),
        ("only left", RIGHT),
        ("heparin infusion right arm", NONE),
        ("other arm", NONE),
        ("mastectomy right, use left", RIGHT),
        ("No BP left arm. Draw right.", LEFT),
        ("no needles L arm, use right arm", LEFT),
        ("PICC right arm; DVT left leg", RIGHT),
        ("fistula left, no fistula right", LEFT),
        ("no fistula either arm", NONE),
        ("denies mastectomy; both arms fine", NONE),
        ("right-handed", NONE),
        ("both parents present", NONE),
        ("fall risk; left hip fracture", NONE),
        ("cannula left arm", NONE),
        ("Ask for Dr. R. Left", NONE),
        ("prefers either arm", NONE),
        ("", NONE),
    ],
)
def test_one_arm_or_none_is_barred(text: str, arms: frozenset[Arm]) -> None:
    assert arms_said(text).barred == arms


@pytest.mark.parametrize("text", ["left, PICC right", "L (fistula) R (midline)", "both", "l+r", "left and right arm"])
def test_column_about_arms_needs_no_reason(text: str) -> None:
    assert arms_said(text, is_about_arms=True).barred == BOTH


@pytest.mark.parametrize(
    ("text", "arms"),
    [
        ("heparin infusion both arms", BOTH),
        ("Heparin drip running in L arm and R arm", BOTH),
        ("heparin infusion left arm", LEFT),
        ("heparin gtt L arm", LEFT),
        ("KCl right arm", RIGHT),
        ("UFH infusion: left, right", BOTH),
        ("heparin sc", NONE),
        ("on heparin; infusion of saline both arms", BOTH),
        ("noradrenaline left", LEFT),
        ("no infusion left arm", NONE),
        ("no heparin", NONE),
    ],
)
def test_arms_into_which_something_runs(text: str, arms: frozenset[Arm]) -> None:
    assert arms_said(text).running == arms


@pytest.mark.parametrize(
    ("text", "barred", "unexplained"),
    [
        ("left AVF; right arm no good", LEFT, RIGHT),
        ("right arm not usable", NONE, RIGHT),
        ("right arm not ok", NONE, RIGHT),
        ("right arm isn't good", NONE, RIGHT),
        ("left arm never good", NONE, LEFT),
        ("left arm no longer usable", NONE, LEFT),
        ("right arm not very good", NONE, RIGHT),
        ("left arm nicht ok, rechts kein ok", NONE, BOTH),
        ("left fistula; right breast ca, nodes out", BOTH, NONE),
        ("no problem with right arm, left arm good", NONE, RIGHT),
        ("left fistula; right arm good", LEFT, NONE),
        ("left fistula; no pain, right arm fine", LEFT, NONE),
        ("right-handed", NONE, NONE),
        ("not the other arm", NONE, BOTH),
    ],
)
def test_word_for_an_arm_counts_only_undenied(text: str, barred: frozenset[Arm], unexplained: frozenset[Arm]) -> None:
    found = arms_said(text)
    assert (found.barred, found.unexplained) == (barred, unexplained)


@pytest.mark.parametrize(
    ("text", "running"),
    [
        ("1 L NaCl", NONE),
        ("NaCl 0.9% 1 L", NONE),
        ("fluid intake 2 l", NONE),
        ("1 L NaCl running right", RIGHT),
        ("Ringer 1l, right arm drip", RIGHT),
        ("NaCl L arm", LEFT),
        ("cannula 1 L", LEFT),
        ("cannula 20 L", LEFT),
    ],
)
def test_litre_of_fluid_is_no_left_arm(text: str, running: frozenset[Arm]) -> None:
    found = arms_said(text)
    assert (found.running, found.unexplained) == (running, NONE)


@pytest.mark.parametrize("text", ["mastectomy 2 L", "fluids in: fistula 1 L", "AVF x2 L"])
def test_number_before_the_side_of_a_fistula_takes_nothing_away(text: str) -> None:
    assert arms_said(text).barred == LEFT


@pytest.mark.parametrize(
    "text",
    [
        "no bloods from arms",
        "do not bleed from either arm",
        "don't take blood from the arms",
        "never draw from her arms",
        "no needles in arms",
    ],
)
def test_arms_without_a_side_are_both_where_they_are_forbidden(text: str) -> None:
    found = arms_said(text)
    assert (found.barred, found.unexplained) == (frozenset(Arm), NONE)


@pytest.mark.parametrize(
    "text", ["ok to draw from arms", "no problem, bloods from arms fine", "not bleeding, arms warm"]
)
def test_arms_without_a_side_are_not_barred_where_nothing_forbids_them(text: str) -> None:
    assert arms_said(text).barred == NONE
