"""`python -m assistant.benchmarks.memory`: the most memory that the whole process takes while it hears (Linux and macOS).

Resident memory at its peak, as the system counts it for a process of its own: the interpreter, every library and the net included.
"""

import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Annotated

import typer

MOST_MIB = 250
_SMALL_PARENT = """
import os, sys
child = os.posix_spawnp(sys.argv[1], sys.argv[1:], os.environ, file_actions=[(os.POSIX_SPAWN_OPEN, 1, os.devnull, os.O_WRONLY, 0)])
_, status, used = os.wait4(child, 0)
print(used.ru_maxrss)
sys.exit(os.waitstatus_to_exitcode(status))
"""
_KIB_IN = 1024 if sys.platform == "darwin" else 1  # ru_maxrss: bytes there, kibibytes elsewhere


def main(
    most: Annotated[int, typer.Option(help="MiB; more makes the exit status 1.")] = MOST_MIB,
    inside: Annotated[Path | None, typer.Option(help="Only be the process with microphone, voice and ear, on this clip.")] = None,
) -> None:
    """Measure `listen` on one clip, the whole job of `demo`, and the parts of `run` that hear and speak: ear, detector of speech, mouth."""
    if inside is not None:
        hear_and_speak(inside)
        return
    from assistant.benchmarks import voices
    from assistant.ears.audio import write

    with tempfile.TemporaryDirectory() as folder:
        clip = Path(folder) / "said.wav"
        write(clip, voices.spoken("espeak:en-us", "six point five thou"))
        program = [sys.executable, "-m"]
        peaks = {
            "listen, one clip": peak_mib([*program, "assistant", "listen", str(clip), "--expect", "backlash"]),
            "demo, a whole job": peak_mib([*program, "assistant", "demo", "--quick"]),
            "ear, detector and mouth": peak_mib([*program, "assistant.benchmarks.memory", "--inside", str(clip)]),
        }
    for name, peak in peaks.items():
        typer.echo(f"{name:<24}{peak:>6.0f} MiB at most")
    if max(peaks.values()) > most:
        raise typer.Exit(1)


def peak_mib(command: list[str]) -> float:
    """The most resident memory of a command, in MiB. Raises CalledProcessError when it fails."""
    # The system counts a process from before its own program starts, so that it begins with the size of its parent: a small one, here.
    done = subprocess.run([sys.executable, "-c", _SMALL_PARENT, *command], capture_output=True, text=True, check=True)
    return int(done.stdout) / _KIB_IN / 1024


def hear_and_speak(clip: Path) -> None:
    """Load all that `run` needs to hear and to speak, and use each: a minute of a quiet room, a reading at a long step, a sentence said."""
    from assistant.benchmarks.sounds import listening
    from assistant.core.grammar import phrases, value_set
    from assistant.core.quantities import Quantity
    from assistant.core.waits import READING_COMMANDS
    from assistant.core.words import Expectation
    from assistant.ears.audio import read
    from assistant.hearing import Hearing
    from assistant.mouth.bundled import rendered

    hearing = Hearing()
    listening(60.0)
    for quantity, unit in (("backlash", "in"), ("nut_torque", "lb-ft"), ("pinion_depth", "in")):
        around = Quantity.of("2.6250", "in") if quantity == "pinion_depth" else None
        legal = phrases(Expectation(quantity, unit, commands=READING_COMMANDS), value_set(quantity, unit, around))
        hearing.ear.hear(read(clip).samples, hearing.ear.load(legal))
    rendered("six point five thousandths?")


if __name__ == "__main__":
    typer.run(main)
