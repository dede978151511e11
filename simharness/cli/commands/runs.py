"""`simharness runs`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from simharness.cli.options import json_option, runs_option

if TYPE_CHECKING:
    from simharness.runs.listing import RunSummary
    from simharness.runs.store import Store


@click.command("runs")
@click.option(
    "--check",
    is_flag=True,
    help="hold every file against its checksum, not its size alone; exit code 7 if one is damaged",
)
@click.option(
    "--remove", "unwanted", multiple=True, metavar="RUN", help="remove this run for good; may be given again"
)
@click.option("--clear", "clearing", is_flag=True, help="clear away what killed processes left")
@click.option("--yes", is_flag=True, help="with --remove: do not ask")
@json_option
@runs_option
def command(
    check: bool, unwanted: tuple[str, ...], clearing: bool, yes: bool, as_json: bool, runs_folder: Path
) -> None:
    """List the stored runs, their state and the names they go by; remove some, or what killed processes left.

    States: finished, failed, damaged (a file is missing or was changed), being worked on, left over (by a
    process that was killed). Worst S11 is that in the band of the record. A run that is being worked on is
    never removed.
    """
    from simharness.runs.store import Store

    store = Store(runs_folder)
    if as_json and (unwanted or clearing):
        raise click.UsageError("--json is for the list alone")
    if unwanted:
        _remove(store, unwanted, yes)
    if clearing:
        _clear(store)
    if not unwanted and not clearing:
        _list(store, check, as_json)


def _list(store: Store, check: bool, as_json: bool) -> None:
    from dataclasses import asdict

    from simharness import runs
    from simharness.cli.text import print_columns, print_json
    from simharness.errors import StoreError
    from simharness.runs.listing import DAMAGED
    from simharness.sweep.backend import counted

    found = runs(store.root, check=check)
    left = store.leftovers()
    damaged = [run for run in found if run.status == DAMAGED]
    if as_json:
        print_json([asdict(run) | {"folder": str(run.folder), "age_s": run.age} for run in found])
    elif found:
        print_columns(
            [_row(run) for run in found],
            ("run", "state", "age", "quality", "worst S11", "size", "also solved as"),
        )
    else:
        click.echo(f"no runs in {store.root} yet: 'simharness solve RECORD' makes one")
    if left and not as_json:
        click.echo(
            f"\nleft by processes that were killed: {_size(sum(item.size for item in left))} in "
            f"{counted(len(left), 'place')}; "
            "'simharness runs --clear' clears it away"
        )
    if damaged and not as_json:
        click.echo()
        for run in damaged:
            click.echo(run.reason)
    if check and damaged:
        raise StoreError(
            f"{counted(len(damaged), 'run')} of {len(found)} damaged: "
            f"{', '.join(run.name for run in damaged)}"
        )


def _row(run: RunSummary) -> tuple[str, ...]:
    worst = "-" if run.worst_s11_db is None else f"{run.worst_s11_db:.1f} dB"
    return (
        run.name,
        run.status,
        _age(run.age),
        run.quality or "-",
        worst,
        _size(run.size),
        ", ".join(run.names),
    )


def _remove(store: Store, unwanted: tuple[str, ...], yes: bool) -> None:
    """Ask once for all, then remove; a name that does not stand for one run stops it before anything is
    gone.
    """
    from simharness.cli.text import print_columns
    from simharness.errors import CancelledError
    from simharness.library.stored_runs import meant_runs
    from simharness.sweep.backend import counted

    found = meant_runs(store, unwanted)
    if not yes:
        print_columns(
            [_row(run) for run in found],
            ("to be removed", "state", "age", "quality", "worst S11", "size", "also solved as"),
        )
        try:
            agreed = click.confirm(f"Remove {counted(len(found), 'run')} for good?", default=False)
        except click.Abort:
            click.echo()
            agreed = False
        if not agreed:
            raise CancelledError("nothing was removed")
    for run in found:
        store.remove(run)
        click.echo(f"removed: {run.name} ({_size(run.size)})")


def _clear(store: Store) -> None:
    cleared = store.clear()
    if not cleared:
        click.echo(f"nothing is left over in {store.root}")
    for item in cleared:
        said = (
            f"finished but for its name, now in the list: {item.put_back}"
            if item.put_back
            else f"cleared: {item.path.relative_to(store.root)}"
        )
        click.echo(f"{said} ({_size(item.size)})")


def _size(size: int) -> str:
    """Bytes in the unit that fits.

    Examples
    --------
    >>> _size(812), _size(45_600), _size(7_120_000), _size(2_345_000_000)
    ('812 B', '46 kB', '7.1 MB', '2.3 GB')
    """
    for scale, unit, digits in ((1e9, "GB", 1), (1e6, "MB", 1), (1e3, "kB", 0)):
        if size >= scale:
            return f"{size / scale:.{digits}f} {unit}"
    return f"{size} B"


def _age(seconds: float | None) -> str:
    """A time in the unit that fits.

    Examples
    --------
    >>> _age(40), _age(5000), _age(90_000), _age(None)
    ('40 s', '83 min', '25 h', '-')
    """
    if seconds is None:
        return "-"
    for scale, unit in ((86400, "d"), (3600, "h"), (60, "min")):
        if seconds >= 2 * scale:
            return f"{seconds / scale:.0f} {unit}"
    return f"{seconds:.0f} s"
