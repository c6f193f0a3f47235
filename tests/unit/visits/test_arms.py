"""Rule ``free-arm``: both arms barred in words is a decision before the route. Five wards with equal bed numbers."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from planner.cli.app import app
from planner.domain.plan import Reason
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from planner.visits.windows import order_windows
from tests.builders import DAY, make_order, make_patient, make_problem
from tests.three_wards import Tables, five_ward_tables, load_tables, write_tables

pytestmark = pytest.mark.slow


def without_arm(tables: Tables, folder: Path) -> set[str]:
    """Return the orders that are set aside because no arm is left."""
    problem = load_tables(tables, folder)
    aside = (*problem.set_aside, *order_windows(problem)[1])
    return {item.order_id for item in aside if item.reason is Reason.NO_ARM}


@pytest.mark.parametrize(
    "cells",
    [
        {"alerts": "no BP or needles either arm"},
        {"alerts": "AV fistula L, PICC R"},
        {"alerts": "AV fistula L; PICC R"},
        {"limbs": "left", "alerts": "PICC R"},
        {"limbs": "L (fistula); R arm PICC"},
        {"precautions": "contact; bilateral mastectomy"},
        {"Door sign": "no needles: both arms"},
        {"Arm restr.": "L + R"},
    ],
)
def test_both_arms_barred_in_words_set_the_patient_of_that_bed_aside(cells: dict[str, str], tmp_path: Path) -> None:
    tables = five_ward_tables()
    tables["patients"][-1] |= cells  # Tern 3A
    assert without_arm(tables, tmp_path / "five") == {"T0502-1"}


def test_note_of_one_order_holds_for_all_of_the_patient(tmp_path: Path) -> None:
    tables = five_ward_tables()
    tables["patients"][0]["limbs"] = "right"
    tables["orders"][0]["note"] = "fistula left arm"
    assert without_arm(tables, tmp_path / "five") == {"H0101-1", "H0101-2"}


def test_note_of_an_order_that_is_set_aside_counts_too(tmp_path: Path) -> None:
    tables = five_ward_tables()
    tables["orders"].append(
        {"order_number": "U1", "patient_number": "H0101", "test": "QQQ", "note": "no needles either arm"}
    )
    assert without_arm(tables, tmp_path / "five") == {"H0101-1", "H0101-2"}


@pytest.mark.parametrize(
    "cells",
    [
        {"alerts": "Dialysefistel links; Perfusor rechts"},
        {"alerts": "fistule bras gauche; perfusion bras droit"},
        {"alerts": "mastectomy L; IVT R hand"},
        {"alerts": "avoid right arm. Left arm cannula, fluids running"},
        {"limbs": "left", "alerts": "IV R forearm"},
        {"limbs": "left", "alerts": "cannula right, saline"},
        {"limbs": "right", "alerts": "drip in other arm"},
        {"alerts": "Gips linker Arm; Zugang rechts mit laufender Infusion"},
        {"limbs": "left", "alerts": "port-a-vein thing right"},  # not known to anybody
        {"limbs": "left", "alerts": "right hand: ask sister"},
    ],
)
def test_arm_that_is_left_and_named_without_a_known_reason_is_a_decision(cells: dict[str, str], tmp_path: Path) -> None:
    tables = five_ward_tables()
    tables["patients"][-1] |= cells
    assert without_arm(tables, tmp_path / "five") == {"T0502-1"}


@pytest.mark.parametrize(
    "cells",
    [
        {"alerts": "KCl right arm; TPN via PICC"},
        {"alerts": "KCl right arm, TPN via PICC"},
        {"alerts": "fistula left; mastectomy"},
        {"alerts": "AV fistula L", "Door sign": "breast cancer 2019"},
        {"alerts": "drip in left arm; sore arm"},
        {"alerts": "KCl right arm", "limbs": "ask dialysis"},
    ],
)
def test_reason_without_a_side_beside_a_closed_arm_is_a_decision(cells: dict[str, str], tmp_path: Path) -> None:
    """One true answer: never 'draw LEFT' and 'which arm' at once. The PICC may be in the arm that is left."""
    tables = five_ward_tables()
    tables["patients"][-1] |= cells
    assert without_arm(tables, tmp_path / "five") == {"T0502-1"}


@pytest.mark.parametrize(
    "cells",
    [
        {"alerts": "PICC right; TPN via PICC"},
        {"alerts": "left mastectomy, lymphoedema"},
        {"alerts": "KCl right arm; TPN via PICC", "limbs": "right"},
        {"alerts": "KCl right arm; no PICC"},
        {"alerts": "KCl right arm; skin graft leg"},
        {"alerts": "TPN via PICC"},  # no arm is closed: the card asks
    ],
)
def test_reason_whose_side_is_known_or_that_is_alone_is_no_decision(cells: dict[str, str], tmp_path: Path) -> None:
    tables = five_ward_tables()
    tables["patients"][-1] |= cells
    assert without_arm(tables, tmp_path / "five") == set()


def test_reason_without_a_side_in_the_note_of_an_order_counts_too(tmp_path: Path) -> None:
    tables = five_ward_tables()
    tables["patients"][0]["alerts"] = "KCl right arm"
    tables["orders"][0]["note"] = "TPN via PICC"
    assert without_arm(tables, tmp_path / "five") == {"H0101-1", "H0101-2"}


@pytest.mark.parametrize(
    "text",
    [
        "good veins right",
        "right lower lobe pneumonia",
        "2 L oxygen",
        "use other arm",
        "rate changed at 00:30; other arm",
        "right hip replaced",
        "R handed",
    ],
)
def test_side_that_says_nothing_against_an_arm_leaves_it_free(text: str, tmp_path: Path) -> None:
    tables = five_ward_tables()
    tables["patients"][-1] |= {"limbs": "left", "alerts": text}
    assert without_arm(tables, tmp_path / "five") == set()


@pytest.mark.parametrize("text", ["AV fistula L", "mastectomy right, use left", "both arms are fine", "PICC right"])
def test_one_arm_is_left_and_the_patient_is_planned(text: str, tmp_path: Path) -> None:
    tables = five_ward_tables()
    tables["patients"][-1]["alerts"] = text
    assert without_arm(tables, tmp_path / "five") == set()


@pytest.mark.parametrize(
    "cells",
    [
        {"alerts": "heparin infusion both arms"},
        {"alerts": "heparin drip L arm; fistula R"},
        {"alerts": "noradrenaline infusion left arm", "limbs": "right"},
        {"alerts": "left mastectomy; IV fluids right arm"},
        {"alerts": "vancomycin running in left PICC, TPN right"},
        {"alerts": "insulin and dextrose infusion left arm; transfusion running right arm"},
        {"alerts": "left arm: no blood no BP; lymphoedema; arterial line right"},
    ],
)
def test_what_runs_into_every_arm_left_is_a_decision(cells: dict[str, str], tmp_path: Path) -> None:
    """A drip spoils what is drawn beside it, and a pressor may not be stopped [SOURCES.md L60]; the doctor decides."""
    tables = five_ward_tables()
    tables["patients"][1] |= cells  # H0102: PT and CBC
    assert without_arm(tables, tmp_path / "five") == {"H0102-1", "H0102-2"}


@pytest.mark.parametrize("text", ["heparin infusion left arm", "IV fluids R", "no infusion left arm, fistula right"])
def test_what_runs_into_one_arm_leaves_the_other(text: str, tmp_path: Path) -> None:
    tables = five_ward_tables()
    tables["patients"][1]["alerts"] = text
    assert without_arm(tables, tmp_path / "five") == set()


def test_stat_is_a_decision_too() -> None:
    """Not even a stat is drawn from an arm that is barred: it stands first among the decisions instead."""
    from planner.domain.orders import Arm, Priority

    problem = make_problem(
        [make_order("O1", "P1", "CBC", priority=Priority.STAT, arms_in_words=frozenset(Arm))], [make_patient()]
    )
    windows, aside = order_windows(problem)
    assert not windows
    assert [(item.reason, item.priority) for item in aside] == [(Reason.NO_ARM, Priority.STAT)]
    assert not plan_round(problem, SolveParams(effort="quick")).plan.routes[0].visits


def test_command_exits_with_3(tmp_path: Path) -> None:
    tables = five_ward_tables()
    tables["patients"][-1]["alerts"] = "AV fistula L, PICC R"
    folder = write_tables(tables, tmp_path / "five")
    done = CliRunner().invoke(
        app, ["plan", str(folder), "--date", DAY.isoformat(), "--out", str(tmp_path / "out"), "--effort", "quick"]
    )
    assert done.exit_code == 3, done.output
    assert "bed Tern 3A, order T0502-1, CBC: Neither arm may be used" in " ".join(done.stdout.split())
