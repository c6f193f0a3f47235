"""``planner catalogue``: the tests that can be ordered, the policy's defaults, and the hazards of a round."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from planner.cli.exit_codes import ExitCode

if TYPE_CHECKING:
    from planner.domain.catalogue import Catalogue, Handling, LabTest


def catalogue(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[WORDS]",
            help="Only tests whose code, LOINC code or name has all these words. Default: every test. With "
            "--hazards: only hazards that have all these words.",
            show_default=False,
        ),
    ] = None,
    policy: Annotated[
        bool,
        typer.Option("--policy", help="Print the default policy, to be saved as policy.toml. Default: the tests."),
    ] = False,
    hazards: Annotated[
        bool,
        typer.Option(
            "--hazards",
            help="Print what could hurt somebody on a round, what this program does about it, and what it does not "
            "control, the most severe first. Default: the tests.",
        ),
    ] = False,
    sign_off: Annotated[
        str | None,
        typer.Option(
            "--sign-off",
            metavar="NAME",
            help="Write that NAME confirms all tube and stability values of --site for the laboratory. Default: none.",
        ),
    ] = None,
    site: Annotated[
        Path | None,
        typer.Option(
            "--site",
            metavar="ROUND",
            help="Folder with the site's tables of tests and tubes, or a round; goes with --sign-off. Default: none.",
        ),
    ] = None,
) -> None:
    """List the tests of the built-in catalogue: code, name, tubes, mL, handling, stability.

    Writes nothing, but with --sign-off the laboratory's confirmation of the values that a round uses.
    """
    import planner

    if sign_off is not None or site is not None:
        _sign_off(sign_off, site, others=bool(words) or policy or hazards)
        return
    if hazards:
        _print_hazards(words or [], with_policy=policy)
        return
    if policy:
        if words:
            raise typer.BadParameter("--policy lists no tests; leave the words away", param_hint="--policy")
        typer.echo(planner.default_policy(), nl=False)
        return
    from planner.loaders.catalogue.load import load_catalogue, load_handling_words

    built_in, _ = load_catalogue()
    handling = load_handling_words()
    tests = planner.catalogue(words or [])
    for test in tests:
        for line in _lines(test, built_in, handling):
            typer.echo(line)
    if not tests:
        _say_none("test", words)


def _sign_off(name: str | None, site: Path | None, *, others: bool) -> None:
    import planner
    from planner.cli.terminal import print_findings

    if name is None or site is None or others:
        message = "--sign-off NAME and --site ROUND go together, and with nothing else"
        raise typer.BadParameter(message, param_hint="--sign-off")
    done = planner.sign_off(name, site)
    print_findings(done.findings)
    count = f"{done.num_tests} tests and {done.num_tubes} tube kinds"
    typer.echo(f"{done.file.name}: {count} confirmed by {name.strip()}")


def _print_hazards(words: list[str], *, with_policy: bool) -> None:
    import planner
    from planner.cli.hazard_page import hazard_lines

    if with_policy:
        raise typer.BadParameter("give --policy or --hazards, not both", param_hint="--hazards")
    found = planner.hazards(words)
    if not found:
        _say_none("hazard", words)
    for line in hazard_lines(found):
        typer.echo(line)


def _say_none(what: str, words: list[str] | None) -> NoReturn:
    print(f"planner: no {what} has {' '.join(words or [])!r}; try one word, or a part of one", file=sys.stderr)
    raise typer.Exit(ExitCode.USAGE)


def _lines(test: LabTest, built_in: Catalogue, words: dict[Handling, str]) -> list[str]:
    """Return a test as a line of its name and indented lines of what it needs."""
    from planner.exporters.workbook.starter import tubes_words

    lines = [
        f"{test.code:<8}{test.name}" + (f"  [LOINC {test.loinc}]" if test.loinc else ""),
        f"        tubes: {tubes_words(test, built_in.tubes)}",
        f"        blood: {test.min_volume_ul / 1000:g} mL alone{_shared(test)}; {_stability(test)}",
    ]
    if said := [text for code, text in words.items() if code in test.handling]:
        lines.append(f"        handling: {'; '.join(said)}")
    return lines


def _shared(test: LabTest) -> str:
    if test.share_group is None:
        return ", in a tube of its own"
    return f", {test.add_volume_ul / 1000:g} mL more in a tube that is drawn anyway"


def _stability(test: LabTest) -> str:
    """Return within which time the laboratory must have it, in the way in which it travels."""
    codes = list(dict.fromkeys(code for alternative in test.accepts for code in alternative))
    by_limit: dict[int | None, list[str]] = {}
    for code in codes:
        by_limit.setdefault(test.stability_in(code), []).append(code)
    if list(by_limit) == [None]:
        return "no time limit to the laboratory is stated"
    spans = [
        f"{_span(limit_s)}{f' in {_or(kinds)}' if len(by_limit) > 1 else ''}" for limit_s, kinds in by_limit.items()
    ]
    return f"in the laboratory within {', '.join(spans)} ({test.mode.value})"


def _span(limit_s: int | None) -> str:
    if limit_s is None:
        return "no stated time"
    minutes = limit_s // 60
    return f"{minutes / 60:g} h" if minutes % 60 == 0 else f"{minutes} min"


def _or(kinds: list[str]) -> str:
    return " or ".join(kinds)
