"""`simharness tolerance RECORD`."""

from __future__ import annotations

from pathlib import Path

import click

from simharness.cli.options import Number, json_option, record_argument, runs_option


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
    help="stored run of this record, or the record again for its finest run: its S11 replaces that of the model",
)
@click.option(
    "--seam",
    type=Number(0, 20, "mm", above=True),
    metavar="MM",
    help="solve it besides, sound and with a seam open so far over half its length: two full-wave runs",
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

    Each dimension alone: what it does and how far it may be off. All together: the share of antennas that keep the match
    asked for. By the fast model, in half a minute or so; only --seam needs the field solver.
    """
    from simharness.cli.bar import Bar
    from simharness.cli.text import print_json
    from simharness.progress import Silent
    from simharness.records import read_record
    from simharness.tolerance.analysis import ToleranceAnalysis
    from simharness.tolerance.messages import tolerance_sentences
    from simharness.tolerance.model import corrected_model, response_surface
    from simharness.tolerance.tool_errors import TOOLS

    design = read_record(record)
    opened = None if seam is None else _seam_study(design, seam, quality, runs_folder, as_json)
    name, curve = (None, None) if run is None else _run_curve(design, run, runs_folder)
    model = response_surface(design) if curve is None else corrected_model(design, *curve)
    study = ToleranceAnalysis(model, TOOLS[tools], Silent() if as_json else Bar()).study(
        tools, samples, seed, name
    )
    sentences = tolerance_sentences(design, study)
    picture = None if no_figures else runs_folder / f"tolerance-{design.name}" / f"{tools}.png"
    if picture is not None:
        from simharness.plot import write_figure
        from simharness.tolerance.picture import tolerance_figure

        write_figure(picture, tolerance_figure, study, design)
    if as_json:
        print_json(_as_plain(design, study, sentences, picture) | {"seam": _plain_seam(opened)})
        return
    _print_study(design, study, sentences)
    if opened is not None:
        _print_seam(opened)
    if picture is not None:
        click.echo(f"\n  picture: {picture}")


def _run_curve(design, run: str, runs_folder: Path) -> tuple[str, tuple]:
    """Full name of a stored run of this antenna; its frequencies and S11."""
    from simharness.cli.stored import asked, stored_results
    from simharness.errors import InputError

    found = asked(run, runs_folder)
    stored, solved, results = found.run, found.record, stored_results(found.run, found.record)
    if (solved.guide, solved.feed, solved.slots) != (design.guide, design.feed, design.slots):
        raise InputError(
            "--run",
            stored.path.name,
            f"is a run of another antenna than {design.name} is now; solve it first",
        )
    return stored.path.name, (results["frequency"], results["s11"])


def _seam_study(design, gap_mm: float, quality: str, runs_folder: Path, quiet: bool):
    from simharness.cli.bar import Bar
    from simharness.progress import Silent
    from simharness.runs.store import Store
    from simharness.tolerance.defects import seam_study

    return seam_study(design, Store(runs_folder), quality, gap_mm, Silent() if quiet else Bar())


def _print_seam(study) -> None:
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


def _plain_seam(study) -> dict | None:
    if study is None:
        return None
    return {
        "gap_m": study.seam.gap,
        "start_m": study.seam.start,
        "end_m": study.seam.end,
        "runs": study.runs,
        "worst_s11_db": study.worst_s11,
        "figures": {name: [figure.value for figure in pair] for name, pair in study.figures.items()},
    }


def _print_study(design, study, sentences: tuple[str, ...]) -> None:
    from simharness.cli.text import print_columns, print_wrapped
    from simharness.tolerance.tool_errors import TOOL_NAMES

    click.echo(f"{design.name}: tolerances with {TOOL_NAMES[study.tools]}\n")
    for sentence in sentences:
        print_wrapped(sentence)
    click.echo(
        f"\n  Each alone, and what its tolerance does upwards (slots: all alike). Resonance is the {study.resonance_is}.\n"
    )
    print_columns(
        [_row(effect, study) for effect in study.effects],
        ("", "tolerance", "allowed from", "to", "resonance", "worst S11", "gain", "side lobes"),
    )


def _row(effect, study) -> tuple[str, ...]:
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


def _change(effect, name: str, scale: float, unit: str, digits: int) -> str:
    """Change of a figure for the tolerance, without a minus before zero."""
    import math

    change = effect.slopes[name] * effect.tolerance * scale
    return "-" if math.isnan(change) else f"{round(change, digits) + 0.0:+.{digits}f} {unit}"


def _as_plain(design, study, sentences: tuple[str, ...], picture: Path | None) -> dict:
    from dataclasses import asdict

    figures = study.sample.figures
    return {
        "record": design.name,
        "tools": study.tools,
        "run": study.run,
        "target_s11_db": design.band.target_s11_db,
        "resonance_is": study.resonance_is,
        "drawn": _single(study.drawn),
        "dimensions": [
            asdict(effect)
            | {"allowed": asdict(study.allowed[effect.name]) if effect.name in study.allowed else None}
            for effect in study.effects
        ],
        "yield": {
            "share": study.sample.share,
            "interval": study.sample.interval,
            "good": study.sample.good,
            "samples": figures.worst_s11.size,
            "spot_error": study.sample.spot_error,
            "worst_s11_db": figures.worst_s11.tolist(),
        },
        "slips": [
            {"words": defect.description, "figures": _single(defect.figures)} for defect in study.defects
        ],
        "sentences": sentences,
        "pictures": [str(picture)] if picture else [],
    }


def _single(figures) -> dict:
    """Figures of one antenna, with their units in the names."""
    return {
        "resonance_hz": figures.resonance[0],
        "worst_s11_db": figures.worst_s11[0],
        "gain_dbi": figures.gain[0],
        "side_lobes_db": figures.side_lobes[0],
    }
