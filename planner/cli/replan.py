"""``planner replan``: the next revision of a plan, from what happened and what was told since."""

from __future__ import annotations

import time
from contextlib import nullcontext

import typer

from planner.cli.options import AcceptEdited, EffortOption, Json, Paper, PaperOption, PriceOption, Seed
from planner.cli.replan_options import (
    AlternativesOption,
    ApplyRestOption,
    AwayOption,
    CancelOption,
    CourierOption,
    Done,
    DoseOption,
    DrawnOption,
    FailedOption,
    GoneOption,
    JoinOption,
    LateOption,
    LostOption,
    MovedOption,
    NeverCameOption,
    NewBedOption,
    Now,
    OrdersFile,
    OutPath,
    PreviewOption,
    RecollectOption,
    RefusedOption,
    Stat,
    TakeOption,
    TimeOption,
    UndoOption,
    UnidentifiedOption,
    VerboseOption,
)
from planner.library.beside import Beside, second_process
from planner.solving.params import Effort
from planner.solving.stopping import CTRL_C


def replan(
    out: OutPath,
    now: Now,
    done: Done = None,
    orders: OrdersFile = None,
    stat: Stat = None,
    dose: DoseOption = None,
    time_of: TimeOption = None,
    cancel: CancelOption = None,
    away: AwayOption = None,
    moved: MovedOption = None,
    new_bed: NewBedOption = None,
    gone: GoneOption = None,
    late: LateOption = None,
    lost: LostOption = None,
    drawn: DrawnOption = None,
    refused: RefusedOption = None,
    unidentified: UnidentifiedOption = None,
    failed: FailedOption = None,
    never_came: NeverCameOption = None,
    join: JoinOption = None,
    courier: CourierOption = None,
    recollect: RecollectOption = None,
    undo: UndoOption = False,
    preview: PreviewOption = False,
    alternatives: AlternativesOption = False,
    take: TakeOption = None,
    apply_rest: ApplyRestOption = False,
    verbose: VerboseOption = False,
    effort: EffortOption = Effort.QUICK,
    seed: Seed = 1,
    price: PriceOption = None,
    paper: PaperOption = Paper.A4,
    accept_edited: AcceptEdited = False,
    as_json: Json = False,
) -> None:
    """Replan a round that has begun: what happened stays, the rest is planned again with few changes.

    Writes the next revision beside the last one, which stays as it is. Each phlebotomist gets a change note to be
    read out over the phone. The same command again changes nothing.
    """
    from planner.library.printing import load_printing

    if alternatives and take is not None:
        raise typer.BadParameter("--take writes one of the plans that --alternatives shows; give one of the two")
    began_s = time.monotonic()
    writes = not (preview or alternatives)
    with CTRL_C.heard(), second_process(load_printing) if writes else nullcontext(Beside(None)) as beside:
        import planner
        from planner.cli.alternatives import alternative_taken, show_alternatives
        from planner.cli.replan_report import Written, report
        from planner.cli.revision import searched
        from planner.library.news import News
        from planner.library.replanning import begin
        from planner.library.writing import options_of

        news = News(
            done=done or (),
            orders=orders or (),
            drawn=drawn or (),
            refused=refused or (),
            unidentified=unidentified or (),
            failed=failed or (),
            stat=stat or (),
            dose=dose or (),
            time=time_of or (),
            cancel=cancel or (),
            away=away or (),
            moved=moved or (),
            new_bed=new_bed or (),
            gone=gone or (),
            late=late or (),
            lost=lost or (),
            never_came=never_came or (),
            join=join or (),
            courier=courier or (),
            recollect=recollect or (),
        )
        begun = begin(
            out,
            now,
            news,
            undo=undo,
            effort=effort.value,
            seed=seed,
            prices=price or (),
            accept_edited=accept_edited,
            take=take,
        )
        if alternatives:
            show_alternatives(begun, as_json, apply_rest=apply_rest)
            return
        if (again := begun.already(options_of(effort.value, seed, paper.value))) is not None:
            report(again.round_plan(), again.folder, as_json, Written.BEFORE, verbose)
            return
        made = searched(
            begun.folder,
            begun.newest.problem.round_name,
            lambda listener: (
                begun.planned(apply_rest=apply_rest, listener=listener)
                if take is None
                else alternative_taken(begun, take, listener, apply_rest=apply_rest)
            ),
        )
        if preview:
            folder = begun.folder / f"r{begun.newest.revision}"
            report(made, folder, as_json, Written.NOTHING, verbose)
            return
        revision = planner.write(made, begun.folder, paper=paper.value, beside=beside, began_s=began_s)
        report(made, revision.folder, as_json, Written.NOW, verbose)
