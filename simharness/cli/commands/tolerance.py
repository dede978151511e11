"""`simharness tolerance RECORD`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from simharness.cli.options import Number, json_option, record_argument, runs_option

if TYPE_CHECKING:
    from simharness.library import ToleranceResult
    from simharness.tolerance.defects import SeamStudy
    from simharness.tolerance.study import Effect, ToleranceStudy


@click.command("tolerance")
@record_argument
@click.option(
    "--tools",
    type=click.Choice(["hand", "mill"]),
    default="hand",
    show_default=True,
    help="whose errors are assumed",
)
@click.option(
    "--samples",
    type=click.IntRange(100, 100_000),
    default=2000,
    show_default=True,
    help="antennas in the sample",
)
@click.option(
    "--seed",
    type=click.IntRange(0, 2**63 - 1),
    default=1,
    show_default=True,
    help="of the random errors: the same seed, the same antennas",
)
@click.option(
    "--run",
    "run",
    default=None,
    metavar="NAME",
    help="stored run of this record, or the record again for its finest run: its S11 replaces that of the "
    "model",
)
@click.option(
    "--seam",
    type=Number(0, 20, "mm", above=True),
    metavar="MM",
    help="also solve the antenna closed and with a seam open by this over half its length: "
    "two full-wave runs",
)
@click.option(
    "--quality",
    type=click.Choice(["draft", "normal", "fine"]),
    default="draft",
    show_default=True,
    help="how fine the mesh of those two runs is",
)
@click.option("--no-figures", is_flag=True, help="leave the picture out")
@json_option
@runs_option
def command(
    record: Path,
    tools: str,
    samples: int,
    seed: int,
    run: str | None,
    seam: float | None,
    quality: str,
    no_figures: bool,
    as_json: bool,
    runs_folder: Path,
) -> None:
    """How exact the dimensions of RECORD must be, and how many of a number made with given tools will do.

    Each dimension alone: what it does and how far it may be off. All together: the share of antennas that
    keep the match asked for. By the model of the estimate, in half a minute or so; only --seam needs the
    field solver.
    """
    from simharness import open_run, read_record, tolerance
    from simharness.cli.bar import Bar
    from simharness.cli.text import print_json

    design = read_record(record)
    found = tolerance(
        design,
        tools,
        samples=samples,
        seed=seed,
        run=None if run is None else open_run(run, runs=runs_folder),
        seam_mm=seam,
        quality=quality,
        runs=runs_folder,
        progress=None if as_json else Bar(),
    )
    where = runs_folder / f"tolerance-{design.name}" / f"{tools}.png"
    picture = None if no_figures else found.write_picture(where)
    if as_json:
        print_json(found.as_dict() | {"pictures": [str(picture)] if picture else []})
        return
    _print_study(found)
    if found.seam is not None:
        _print_seam(found.seam)
    if picture is not None:
        click.echo(f"\n  picture: {picture}")


def _print_seam(study: SeamStudy) -> None:
    from simharness.cli.text import number, print_columns, print_wrapped
    from simharness.tolerance.defects import seam_sentence
    from simharness.verdict.assessment import LABELS

    click.echo()
    print_wrapped(seam_sentence(study))
    click.echo()
    print_columns(
        [(LABELS[name], number(sound), number(leaky)) for name, (sound, leaky) in study.figures.items()],
        ("full wave", "closed", "seam open"),
    )


def _print_study(found: ToleranceResult) -> None:
    from simharness.cli.text import print_columns, print_wrapped
    from simharness.tolerance.tool_errors import TOOL_NAMES

    study = found.study
    click.echo(f"{found.record.name}: tolerances with {TOOL_NAMES[study.tools]}\n")
    for sentence in found.sentences:
        print_wrapped(sentence)
    click.echo(
        "\n  Each alone, and what its tolerance does upwards (slots: all alike). "
        f"Resonance is the {study.resonance_is}.\n"
    )
    print_columns(
        [_row(effect, study) for effect in study.effects],
        ("", "tolerance", "allowed from", "to", "resonance", "worst S11", "gain", "side lobes"),
    )


def _row(effect: Effect, study: ToleranceStudy) -> tuple[str, ...]:
    from simharness.tolerance.messages import tolerance_text

    allowed = study.allowed.get(effect.name)
    ends = (
        ("-", "-")
        if allowed is None
        else (
            f"{'beyond ' if allowed.less_open else ''}-{allowed.less:.2f}",
            f"{'beyond ' if allowed.more_open else ''}+{allowed.more:.2f}",
        )
    )
    return (
        effect.name,
        tolerance_text(effect),
        *ends,
        _change(effect, "resonance", 1e-6, "MHz", 1),
        *(_change(effect, name, 1.0, "dB", 2) for name in ("worst_s11", "gain", "side_lobes")),
    )


def _change(effect: Effect, name: str, scale: float, unit: str, digits: int) -> str:
    """Change of a figure for the tolerance, without a minus before zero."""
    import math

    change = effect.slopes[name] * effect.tolerance * scale
    return "-" if math.isnan(change) else f"{round(change, digits) + 0.0:+.{digits}f} {unit}"
