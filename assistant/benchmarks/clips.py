"""`python -m assistant.benchmarks.clips SPEC.toml OUTDIR`: spoken WAVs, 16 kHz, one channel, from a list.

One table a clip; what is left out has the value shown:

    [[clip]]
    file = "03_tooth_2.wav"
    text = "six and a half thou"        # plain words; "thou" is said as in "thousandth"
    voice = "espeak:en-us"              # or flite:NAME, where flite is installed
    speed = 1.0
    pitch = 50                          # 0 to 99
    snr = 15                            # decibels of speech over noise; left out: a quiet room
    noise = "compressor"                # needed with snr
    room = 0.3                          # seconds in which an echo fades; left out: none
    seed = 0                            # of noise and room

The same list makes the same files, to the last sample, whenever the command is run.
"""

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from assistant.benchmarks import noises, speech_kit, voices
from assistant.core.errors import BadInputError
from assistant.ears import RATE
from assistant.ears.audio import write

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

LEAD_SECONDS, TAIL_SECONDS = 0.5, 0.6


class Spec(BaseModel):
    """One clip of the list; the keys are explained at the top of this file."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    file: str = Field(pattern=r"^[\w.-]+\.wav$")
    text: str = Field(pattern=r"^[a-z' ]+$")
    voice: str = "espeak:en-us"
    speed: float = Field(1.0, ge=0.5, le=2.0)
    pitch: int = Field(50, ge=0, le=99)
    snr: float | None = Field(None, ge=-10, le=60)
    noise: str | None = None
    room: float | None = Field(None, ge=0.05, le=2.0)
    seed: int = 0

    @model_validator(mode="after")
    def _noise_has_its_level(self) -> "Spec":
        if (self.snr is None) != (self.noise is None):
            raise ValueError("snr and noise go together")
        if self.noise is not None and self.noise not in noises.NOISES:
            raise ValueError(f"noise {self.noise!r}: expected one of {', '.join(noises.NOISES)}")
        return self


class SpecList(BaseModel):
    """The whole file."""

    model_config = ConfigDict(extra="forbid")

    clip: list[Spec] = Field(min_length=1)


def main(
    spec: Annotated[Path, typer.Argument(metavar="SPEC.toml", help="The list of clips.")],
    folder: Annotated[Path, typer.Argument(metavar="OUTDIR", help="Where the WAVs go; made if it is not there.")],
) -> None:
    """Make every clip of a list. Exit status 2, with all that is wrong, when the list cannot be used."""
    try:
        listed = read_list(spec)
        folder.mkdir(parents=True, exist_ok=True)
        for clip in listed:
            write(folder / clip.file, made(clip))
    except (BadInputError, OSError) as error:
        typer.echo(f"clips: {error}", err=True)
        raise typer.Exit(2) from error
    typer.echo(f"{len(listed)} clips in {folder}")


def read_list(path: Path) -> list[Spec]:
    """The clips of a list. Raises BadInputError with every fault and its place."""
    try:
        listed = SpecList.model_validate(tomllib.loads(path.read_text("utf-8"))).clip
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise BadInputError(f"{path}: {error}") from error
    except ValidationError as error:
        faults = [f"{'.'.join(map(str, fault['loc']))}: {fault['msg']}" for fault in error.errors()]
        raise BadInputError(f"{path}: {'; '.join(faults)}") from error
    names = [clip.file for clip in listed]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise BadInputError(f"{path}: {', '.join(twice)} listed more than once")
    return listed


def made(spec: Spec) -> "NDArray[numpy.float64]":
    """One clip, with half a second of its room before the speech and a little more after. Raises BadInputError for a voice that is not here."""
    import numpy as np

    dice = np.random.default_rng(spec.seed)
    speech = voices.spoken(spec.voice, spec.text, spec.speed, spec.pitch)
    if spec.room is not None:
        speech = noises.in_a_room(speech, dice, spec.room)
    clip = np.concatenate([np.zeros(int(RATE * LEAD_SECONDS)), speech, np.zeros(int(RATE * TAIL_SECONDS))])
    return noises.with_noise(clip, spec.snr, spec.noise, dice, speech_kit.talk() if spec.noise == "babble" else None)


if __name__ == "__main__":
    typer.run(main)
