"""The commands for a move: ``check``, ``move``, ``audit``, ``way-home``. They parse, call and print; ``move_run`` does the work."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from rollroute.errors import InputError

VARIANTS = '"one more van", "closed: NAME", "later: MINUTES", "outlets: NAME N", or "usual" for all of them. Repeatable.'
NETWORK_HELP = "A network built before with `rollroute build`, instead of the map that move.toml names."


def _path(**kwargs: Any) -> Any:
    return click.Path(path_type=Path, **kwargs)


def register(group: click.Group) -> None:
    """Add the commands to ``group``."""
    for command in (check, move, audit, way_home):
        group.add_command(command)


@click.command()
@click.argument("move_dir", metavar="MOVE_DIR", type=_path())
@click.option("--network", "network_file", type=_path(), help=NETWORK_HELP)
@click.pass_context
def check(ctx: click.Context, move_dir: Path, network_file: Path | None) -> None:
    """Read every row of a move, print all that can't be used, and the call list: whom to ask what, first things first."""
    from rollroute.move_run import check_move
    from rollroute.move_words import call_lines, reading_lines

    with _progress() as progress:
        checked = check_move(move_dir, network_file=network_file, progress=progress)
    for line in reading_lines(checked.reading, checked.wrong):
        click.echo(line)
    order = "what would change the plan most first" if checked.is_weighed else "not in order of worth"
    click.echo(f"\nCall list, {order}")
    if not checked.is_weighed:
        click.echo(f"  {checked.not_weighed_for}")
    for line in call_lines(checked.calls):
        click.echo(line)
    if checked.reading.problems or checked.wrong:
        ctx.exit(2)


@click.command()
@click.argument("move_dir", metavar="MOVE_DIR", type=_path())
@click.option("--out", required=True, type=_path(), help="The folder to write.")
@click.option("--from", "earlier", type=_path(), metavar="PLAN.json", help="Go on from this plan: change as little as possible.")
@click.option("--now", metavar="CLOCK", help="With --from: the clock time as it is, for example 19:20; what has happened by then stays.")
@click.option("--rehearse", type=click.IntRange(min=1), metavar="N", help="Play the plan N times against delays, bad places and failures.")
@click.option(
    "--fail-one/--no-fail-one", "fails_one", default=None, help="Let each unverified place and van fail alone (small moves: yes)."
)
@click.option("--what-if", "variants", multiple=True, help="Also plan with one thing different, and compare: " + VARIANTS)
@click.option("--plan-only", is_flag=True, help="Write plan.json and travel.json, and no papers.")
@click.option("--network", "network_file", type=_path(), help=NETWORK_HELP)
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True)
@click.option("--language", type=click.Choice(["en", "es"]), default="en", show_default=True)
@click.option("--units", type=click.Choice(["metric", "us"]), default="metric", show_default=True)
@click.option("--clock", type=click.Choice(["24", "12"]), default="24", show_default=True)
@click.pass_context
def move(ctx: click.Context, /, move_dir: Path, out: Path, **asked: Any) -> None:
    """Plan the whole move: who rolls, who rides, where to, in what order, who is plugged in when, and who can't be served."""
    from rollroute.move_run import Wishes, check_variants, compare_variants, plan_move, write_planned
    from rollroute.move_words import plan_lines
    from rollroute.output.words import Words

    if asked["now"] is not None and asked["earlier"] is None:
        raise InputError(f"--now {asked['now']}: goes on from an earlier plan. Give it with --from PLAN.json, or leave --now out.")
    check_variants(asked["variants"], move_dir)
    words = Words(language=asked["language"], units=asked["units"], clock=asked["clock"])
    with _progress() as progress:
        with _interruptible() as stop:
            wishes = Wishes(**{name: asked[name] for name in ("earlier", "now", "fails_one")}, rehearse=asked["rehearse"] or 0)
            planned = plan_move(move_dir, out, network_file=asked["network_file"], wishes=wishes, progress=progress, stop=stop)
        with _all_or_none(out):
            files = write_planned(planned, out, words=words, paper=asked["paper"], plan_only=asked["plan_only"], progress=progress)
        compared = compare_variants(planned, asked["variants"], progress=progress)
    for line in (*plan_lines(planned.plan), *planned.said, *compared):
        click.echo(line)
    click.echo(f"written: {len(files)} files in {out}", err=True)
    _print_violations(ctx, planned.violations)


@click.command()
@click.argument("plan_file", metavar="PLAN.json", type=_path())
@click.option("--network", "network_file", type=_path(), help=NETWORK_HELP)
@click.pass_context
def audit(ctx: click.Context, plan_file: Path, network_file: Path | None) -> None:
    """Check a plan from its inputs and the map alone, also one edited by hand: one line for each violation, exit code 1 if any."""
    from rollroute.move_run import audit_file

    report = audit_file(plan_file, network_file=network_file)
    for line in report.changed:
        click.echo(f"note: {line}", err=True)
    if not report.violations:
        click.echo("0 violations")
    _print_violations(ctx, report.violations)


@click.command("way-home")
@click.argument("plan_file", metavar="PLAN.json", type=_path())
@click.option("--start", required=True, metavar="TIME", help="When the return may begin, for example 2026-03-15T10:00.")
@click.option("--out", required=True, type=_path(), help="The folder of the move back, to be planned with `rollroute move`.")
@click.option("--answers", type=_path(), help="What is known of each home: a filled-in home.csv. By default the one in the folder written.")
def way_home(plan_file: Path, start: str, out: Path, answers: Path | None) -> None:
    """Turn a move round: who can go home, who waits for which answer, what travels along, and a move folder for those who can."""
    from rollroute.inputs.move_home import FILE
    from rollroute.move_home import turn_round
    from rollroute.planning.way_home import way_home_lines

    turned = turn_round(plan_file, out, start=start, answers=answers)
    for line in way_home_lines(turned.home):
        click.echo(line)
    click.echo(f"written: {', '.join(f.name for f in turned.files)} in {out}", err=True)
    if turned.home.waiting:
        click.echo(f"Next: fill in {out / FILE}, then give this command again; `rollroute move {out}` plans for those who can.", err=True)


def _print_violations(ctx: click.Context, violations: tuple[Any, ...]) -> None:
    for violation in violations:
        click.echo(f"violation: {violation}")
    if violations:
        ctx.exit(1)


@contextmanager
def _progress() -> Iterator[Any]:
    """A progress bar on a terminal; nothing elsewhere, so that logs stay readable."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

    console = Console(stderr=True)
    if not console.is_terminal:
        yield None
        return
    columns = (SpinnerColumn(), TextColumn("{task.description}"), BarColumn(bar_width=30), TimeElapsedColumn())
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task("reading", total=None)

        def report(words: str) -> None:
            name, _, count = words.rpartition(" ")
            done, _, total = count.partition("/")
            if done.isdigit() and total.isdigit():
                bar.update(task, description=name, completed=int(done), total=int(total), refresh=True)
            else:
                bar.update(task, description=words, total=None, refresh=True)

        yield report


@contextmanager
def _all_or_none(out: Path) -> Iterator[None]:
    """Ctrl-C while papers are made ends the program and says what is left: what was there before."""
    try:
        yield
    except KeyboardInterrupt:
        click.echo(f"\nInterrupted while papers were made: nothing was written, {out} is as it was.", err=True)
        raise


@contextmanager
def _interruptible() -> Iterator[Any]:
    """The first Ctrl-C asks for the best plan so far, the second one ends the program."""
    asked = [False]

    def interrupt(*_: object) -> None:
        if asked[0]:
            raise KeyboardInterrupt
        asked[0] = True
        click.echo("Interrupted: the best plan so far is written and marked so. Once more to quit without one.", err=True)

    earlier = signal.signal(signal.SIGINT, interrupt)
    try:
        yield lambda: asked[0]
    finally:
        signal.signal(signal.SIGINT, earlier)
