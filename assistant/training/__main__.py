"""`python -m assistant.training`: pool, then train, then put the file in the ear's place and run the benchmarks."""

import importlib.util
import itertools
from pathlib import Path
from typing import Annotated

import typer

from assistant.core.errors import BadInputError

app = typer.Typer(no_args_is_help=True, pretty_exceptions_enable=False, help="Make the ear's net again, from folders that you name.")


@app.command()
def pool(
    out: Annotated[Path, typer.Argument(metavar="POOL.npz", help="The file to write.")],
    recordings: Annotated[list[Path] | None, typer.Option("--recordings", metavar="DIR", help="A folder of people's recordings.")] = None,
    espeak: Annotated[int, typer.Option(help="Clips by espeak.")] = 26_000,
    flite: Annotated[int, typer.Option(help="Clips by flite, where it is installed.")] = 7_000,
    joins: Annotated[int, typer.Option(help="Strings joined from people's single words.")] = 9_000,
    noises: Annotated[int, typer.Option(help="Noises of the bank.")] = 960,
    seed: Annotated[int, typer.Option(help="The same seed draws the same.")] = 1,
) -> None:
    """Make the clips to learn from."""
    from assistant.training.clips import SOURCES, by_espeak, by_flite, joined, people_in
    from assistant.training.noise import bank
    from assistant.training.pool import pooled
    from assistant.training.texts import texts

    try:
        people = [one for folder in recordings or () for one in people_in(folder)]
        made = pooled(
            itertools.chain(
                by_espeak(list(texts(espeak, seed)), seed),
                by_flite(list(texts(flite, seed + 1)), seed + 1),
                (clip for _, clip in people),
                joined(people, joins, seed + 2),
            ),
            bank(noises, seed),
        )
    except BadInputError as error:
        typer.echo(f"training: {error}", err=True)
        raise typer.Exit(2) from error
    made.save(out)
    counts = ", ".join(f"{name} {int((made.sources == number).sum())}" for number, name in enumerate(SOURCES))
    typer.echo(f"{len(made)} clips ({counts}), {made.lengths.sum() / 16_000 / 3600:.1f} hours")


@app.command()
def train(
    clips: Annotated[Path, typer.Argument(metavar="POOL.npz", help="What `pool` wrote.")],
    out: Annotated[Path, typer.Argument(metavar="NET.onnx", help="The file to write.")],
    start: Annotated[
        Path | None, typer.Option("--start", metavar="ENCODER.npz", help="The starting encoder; without it, from nothing.")
    ] = None,
    steps: Annotated[int, typer.Option(min=1, help="Steps of learning.")] = 5_600,
    batch: Annotated[int, typer.Option(min=2, help="Clips a step.")] = 224,
    rate: Annotated[float, typer.Option(help="The encoder's highest rate of learning.")] = 8e-5,
    kept_layers: Annotated[int, typer.Option(min=0, max=4, help="First layers of the encoder that stay as they were.")] = 0,
) -> None:
    """Train a net and write it as the ear loads it."""
    missing = [name for name in ("torch", "onnx") if importlib.util.find_spec(name) is None]
    if missing:
        typer.echo(f"training: {' and '.join(missing)} not installed: pip install 'benchhand[training]'", err=True)
        raise typer.Exit(2)
    from assistant.training.export import exported
    from assistant.training.pool import load_pool
    from assistant.training.steps import Plan, trained

    def tell(step: int, loss: float) -> None:
        if step % 50 == 0 or step == steps - 1:
            typer.echo(f"step {step}, loss a phone {loss:.3f}", err=True)

    try:
        weights = trained(load_pool(clips), Plan(steps=steps, batch=batch, rate=rate, kept_layers=kept_layers), start, tell)
    except BadInputError as error:
        typer.echo(f"training: {error}", err=True)
        raise typer.Exit(2) from error
    typer.echo(f"{out} SHA-256 {exported(weights, out)}")


if __name__ == "__main__":
    app()
