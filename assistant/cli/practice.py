"""`benchhand practice`: a virtual axle to learn on."""

import json
from pathlib import Path
from typing import Annotated

import typer

from assistant.cli.run import Language
from assistant.core.errors import BenchError


def register(app: typer.Typer) -> None:
    """Mount the command."""
    app.command("practice")(practice)


def practice(
    layout: Annotated[str, typer.Option("--layout", help="Words with commas, such as head-cup,crush-sleeve,side-shims,mm.")] = "",
    faults: Annotated[
        str, typer.Option("--faults", help="none, some (two), or names with commas: burr,decimal-slip@read:backlash#2.")
    ] = "some",
    seed: Annotated[
        int | None, typer.Option("--seed", metavar="N", min=0, help="The same number gives the same axle; default: a new one.")
    ] = None,
    language: Language = "en",
    auto: Annotated[bool, typer.Option("--auto", help="The bench plays alone; watch.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="The outcome as one JSON object; all talk goes to standard error.")] = False,
) -> None:
    """A virtual axle to learn on: you are the technician, and something goes wrong.

    Exit status 1 when the job ends out of spec, 2 for bad input.
    """
    try:
        status = _practise(layout, faults, seed, language, auto=auto, as_json=as_json)
    except BenchError as error:
        typer.echo(f"benchhand practice: {error}", err=True)
        raise typer.Exit(2) from error
    raise typer.Exit(status)


def _practise(layout: str, faults: str, seed: int | None, language: str, *, auto: bool, as_json: bool) -> int:
    import secrets
    import tempfile

    from assistant.bench import new_bench
    from assistant.clock import now
    from assistant.files import language_named, phrases_for, read_job
    from assistant.journal.lines import LinesJournal
    from assistant.practice import Practice, bench_words, build_named, faults_named, told
    from assistant.virtual_axle import VirtualAxle

    number = secrets.randbelow(10_000) if seed is None else seed
    phrases = phrases_for(language_named(language))
    build = build_named(layout)
    axle = VirtualAxle(build, number, faults_named(faults, build, number))

    def write(line: str) -> None:
        typer.echo(line, err=as_json)

    def typed() -> str | None:
        typer.echo("> ", nl=False, err=as_json)
        try:
            return input()
        except EOFError:
            return None

    # A practice job is no job: its journal goes with the folder, and never lies among the real ones.
    with tempfile.TemporaryDirectory(prefix="benchhand-practice-") as folder:
        path = Path(folder) / "job.toml"
        path.write_text(axle.job_toml(), encoding="utf-8")
        journal = LinesJournal(Path(folder), "practice", new=True)
        try:
            bench, first = new_bench(read_job(path), journal, now, language=language)
            built = f"{build.pinion_shims}, {build.preload}, {build.carrier}, {build.units}"
            write(phrases.sentence("practice.opened", seed=str(number), build=built))
            if not auto:
                write(phrases.sentence("practice.how"))
                for word, what in bench_words(phrases).items():
                    write(f"  {word}  {what}")
            outcome = Practice(bench, axle, write, None if auto else typed).run(first)
        finally:
            journal.close()
    for line in told(outcome, phrases):
        write(line)
    if as_json:
        result = {"verdict": outcome.verdict, "seed": number, "happened": [each.json() for each in outcome.happened]}
        typer.echo(json.dumps(result | {"false_alarms": outcome.false_alarms, "looked_over": outcome.looked_over}, ensure_ascii=False))
    return 1 if outcome.verdict == "out of spec" else 0
