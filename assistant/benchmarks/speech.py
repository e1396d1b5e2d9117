"""`python -m assistant.benchmarks.speech`: how well and how fast `listen` hears, on clips made on the spot.

Nothing is fitted here: the bars are the shipped ones. The honest voices are those that no training has heard (the default).
"""

import json
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any

import typer

from assistant.benchmarks import noises, people, speech_kit, surprises, voices
from assistant.benchmarks.peers import Peer, expectation_of, line_of, peer
from assistant.benchmarks.speech_kit import Clip, Score, outcome, score
from assistant.core.errors import BadInputError
from assistant.core.grammar import phrases
from assistant.ears.audio import write

# What makes the exit status 1: at clean and 20 dB this share of silent-wrong, any chatter taken at clean, or an answer later than this.
MOST_WRONG, MOST_SECONDS = 0.02, 1.0
BATCH = 60
VOICES = {"unseen": voices.NEVER_HEARD, "seen": voices.HEARD_IN_TRAINING, "all": voices.NEVER_HEARD + voices.HEARD_IN_TRAINING}

Line = dict[str, Any]


def main(
    clips: Annotated[int, typer.Option(help="How many things are said.")] = 60,
    snr: Annotated[str, typer.Option(help="Signal to noise, decibels, or clean.")] = "clean,20,15,10",
    seed: Annotated[int, typer.Option(help="The same seed makes the same clips.")] = 1,
    voice: Annotated[str, typer.Option(help="unseen (by the training), seen, all, or names as espeak:en-029,flite:awb.")] = "unseen",
    noise: Annotated[str, typer.Option(help=f"Some of {', '.join(noises.NOISES)}.")] = ",".join(noises.NOISES),
    confirms: Annotated[bool, typer.Option("--confirms", help="Only answers to a read-back: is a no ever taken for a yes?")] = False,
    recordings: Annotated[
        Path | None, typer.Option("--people", metavar="DIR", help="People's single words, joined to readings, in place of the voices.")
    ] = None,
    predicted: Annotated[
        bool, typer.Option("--predicted", help="Also what the expected value does: each reading near its prediction, and far from it.")
    ] = False,
    peers: Annotated[str, typer.Option(metavar="NAMES", help="Beside it on the same clips: pocketsphinx, whisper.")] = "",
    whisper_model: Annotated[Path | None, typer.Option("--whisper-model", metavar="FOLDER", help="For --peers whisper.")] = None,
    wrong: Annotated[int, typer.Option(metavar="N", help="Name up to N of the clips that were wrongly accepted.")] = 10,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object on standard output.")] = False,
) -> None:
    """Make clips, let `listen` hear them, and print right, silent-wrong and ask-again for each level, kind, form, voice and noise.

    Exit status 1 when silent-wrong at clean or 20 dB is over 2 %, chatter is taken at clean, or p95 is over a second.
    """
    try:
        levels = [None if level == "clean" else float(level) for level in snr.split(",")]
        beside = [peer(name, whisper_model) for name in peers.split(",") if name]
        kinds = noise.split(",")
        if recordings is not None:
            sounds = speech_kit.in_noise(people.strings(people.speakers_in(recordings), clips, seed), levels, kinds, seed)
        else:
            items = (speech_kit.confirms if confirms else speech_kit.planned)(clips, seed, _voices(voice))
            sounds = speech_kit.recorded(items, levels, kinds, seed)
        with tempfile.TemporaryDirectory() as folder:
            made = [_kept(Path(folder), clip) for clip in sounds]
            lines, wall = _heard(made)
            theirs = {one.name: _heard_by(one, made) for one in beside}
            tallies = surprises.tallied(_heeded(made), seed) if predicted else {}
    except (BadInputError, ValueError) as error:
        typer.echo(f"speech: {error}", err=True)
        raise typer.Exit(2) from error
    rows = [_row(clip, lines.get(str(wav))) for wav, clip in made]
    parts = {name: _parts(rows, key) for name, key in _PARTS.items()}
    if as_json:
        typer.echo(json.dumps({name: {key: _figures(part) for key, part in table.items()} for name, table in parts.items()}))
    else:
        for name, table in parts.items():
            _print(name, table)
        typer.echo(f"\n{wall:.1f} s for {len(made)} clips, starting included")
    for clip, line, found, _ in [row for row in rows if row[2] in ("wrong", "taken")][:wrong]:
        typer.echo(
            f"{found}: {_level(clip)} {clip.noise or ''} {clip.item.voice} said {clip.item.text!r}, heard {(line or {})['heard']!r}",
            err=True,
        )
    for name, lines_of_peer in theirs.items():
        table = _parts([_row(clip, lines_of_peer[str(wav)]) for wav, clip in made], _level)
        if as_json:
            typer.echo(json.dumps({f"level, {name}": {key: _figures(part) for key, part in table.items()}}))
        else:
            _print(f"level, {name}", table)
    if tallies and as_json:
        typer.echo(json.dumps({"predicted": [{"floor": floor, "kind": kind, **vars(one)} for (floor, kind), one in tallies.items()]}))
    elif tallies:
        _print_predicted(tallies)
    if not _is_good_enough(parts["level"]):
        raise typer.Exit(1)


def _voices(wanted: str) -> list[str]:
    """The voices that were asked for. A set is cut down to what is here, with a word on what is not; a name that is not here is an error."""
    if wanted not in VOICES:
        return wanted.split(",")
    missing = [name for name in VOICES[wanted] if not voices.is_here(name)]
    if missing:
        typer.echo(f"speech: without {', '.join(missing)}: flite is not installed (Debian package flite)", err=True)
    return [name for name in VOICES[wanted] if name not in missing]


def _kept(folder: Path, clip: Clip) -> tuple[Path, Clip]:
    """Write a clip's samples, and keep what is said of it."""
    wav = folder / f"{clip.item.number:05d}_{_level(clip)}.wav"
    write(wav, clip.samples)
    return wav, Clip(clip.item, clip.snr_db, clip.noise, clip.samples[:0])


def _heard(made: Sequence[tuple[Path, Clip]]) -> tuple[dict[str, Line], float]:
    """What `benchhand listen` prints of each clip, by its path; and the seconds that took. Clips of one step go together."""
    steps: dict[tuple[str, str], list[Path]] = defaultdict(list)
    for wav, clip in made:
        steps[clip.item.expect, clip.item.unit].append(wav)
    lines: dict[str, Line] = {}
    started = time.perf_counter()
    for (expect, unit), wavs in steps.items():
        for at in range(0, len(wavs), BATCH):
            command = [sys.executable, "-m", "assistant", "listen", *map(str, wavs[at : at + BATCH]), "--expect", expect, "--json"]
            command += ["--unit", unit] if unit else []
            done = subprocess.run(command, capture_output=True, text=True, check=False)
            if done.returncode != 0:
                raise BadInputError(f"listen --expect {expect} ended with {done.returncode}: {done.stderr.strip()}")
            lines |= {line["wav"]: line for line in map(json.loads, done.stdout.splitlines())}
    return lines, time.perf_counter() - started


def _heard_by(peer: Peer, made: Sequence[tuple[Path, Clip]]) -> dict[str, Line]:
    """The same clips by another recogniser, in this process."""
    from assistant.ears.audio import read

    return {str(wav): peer.hear(read(wav).samples, expectation_of(clip.item)) for wav, clip in made}


def _heeded(made: Sequence[tuple[Path, Clip]]) -> list[surprises.Heeded]:
    """The readings once more, in this process, for all the candidates."""
    from assistant.ears.audio import read
    from assistant.ears.net import NetEar

    return list(surprises.heeded((replace(clip, samples=read(wav).samples) for wav, clip in made), NetEar()))


def _row(clip: Clip, line: Line | None) -> "Row":
    """A clip with what was heard. The likeliest is told by its words, accepted or not; what is not heeded has none."""
    meaning = None if line is None else dict(phrases(expectation_of(clip.item))).get(line["heard"])
    at_once = clip.item.kind != "chatter" and outcome(clip.item, line_of(meaning, "", 0.0)) == "right"
    return clip, line, outcome(clip.item, line), at_once


def _level(clip: Clip) -> str:
    return "clean" if clip.snr_db is None else f"{clip.snr_db:g} dB"


_PARTS: dict[str, Callable[[Clip], str]] = {
    "level": _level,
    "kind": lambda clip: clip.item.kind,
    "step": lambda clip: f"{clip.item.expect} {clip.item.unit}".strip(),
    "form": lambda clip: clip.item.form or clip.item.command or "chatter",
    "voice": lambda clip: clip.item.voice,
    "noise": lambda clip: clip.noise or "quiet room",
}

Row = tuple[Clip, Line | None, str, bool]
"""A clip, what was printed of it, the outcome, and whether the likeliest was right whatever the bars."""


def _parts(rows: Sequence[Row], key: Callable[[Clip], str]) -> dict[str, Score]:
    """The score of each part that `key` names, in the order of their first clips, and of all."""
    found: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        found[key(row[0])].append(row)
    return {name: _scored(part) for name, part in found.items()} | {"all": _scored(rows)}


def _scored(rows: Sequence[Row]) -> Score:
    return score(((result, line["seconds"] if line else 0.0) for _, line, result, _ in rows), sum(at_once for *_, at_once in rows))


def _figures(part: Score) -> Line:
    low, high = speech_kit.interval(part.wrong, part.spoken)
    return {
        "spoken": part.spoken, "at_once": part.at_once, "right": part.right, "wrong": part.wrong,
        "wrong_95": [round(low, 4), round(high, 4)], "again": part.again,
        "chatter": part.chatter, "chatter_taken": part.taken, "p50_seconds": part.quantile(0.5), "p95_seconds": part.quantile(0.95),
    }  # fmt: skip


def _print(name: str, table: dict[str, Score]) -> None:
    typer.echo(
        f"\n{name:<26}{'n':>5}{'at once':>9}{'right':>8}{'silent-wrong (95 %)':>25}{'ask-again':>11}{'chatter':>9}{'p50':>8}{'p95':>8}"
    )
    for key, part in table.items():
        tries = max(part.spoken, 1)
        low, high = speech_kit.interval(part.wrong, part.spoken)
        wrong = f"{part.wrong / tries:.3f} ({low:.3f}–{high:.3f})"
        rates = f"{part.at_once / tries:>9.3f}{part.right / tries:>8.3f}{wrong:>25}{part.again / tries:>11.3f}"
        rates = rates if part.spoken else f"{'–':>9}{'–':>8}{'–':>25}{'–':>11}"
        typer.echo(
            f"{key:<26}{part.spoken:>5}{rates}{f'{part.taken}/{part.chatter}':>9}{part.quantile(0.5):>8.3f}{part.quantile(0.95):>8.3f}"
        )


def _print_predicted(tallies: dict[tuple[float, str], surprises.Tally]) -> None:
    """For each floor of the prior: what it would mishear if it chose, and which read-backs it puts as a question."""
    typer.echo(f"\n{'prior, if it chose':<26}{'n':>5}{'expected misheard':>25}{'surprising misheard':>25}{'ratio':>8}")
    for floor in sorted({floor for floor, _ in tallies}, reverse=True):
        near, far = (tallies[floor, kind] for kind in surprises.KINDS)
        ratio = f"{far.misheard / near.misheard:.2f}" if near.misheard else "–"
        name = "none: the sound chooses" if floor == 1 else f"floor {floor:g}"
        typer.echo(f"{name:<26}{near.said:>5}{_rate(near.misheard, near.said):>25}{_rate(far.misheard, far.said):>25}{ratio:>8}")
    typer.echo(f"\n{'prior, read-back asks':<26}{'expected: right, wrong asked':>31}{'surprising: right, wrong asked':>34}")
    for floor in sorted({floor for floor, _ in tallies}, reverse=True):
        cells = [
            f"{part.questioned_right}/{part.right}, {part.questioned_wrong}/{part.wrong}"
            for part in (tallies[floor, kind] for kind in surprises.KINDS)
        ]
        typer.echo(f"{f'floor {floor:g}':<26}{cells[0]:>31}{cells[1]:>34}")


def _rate(hits: int, tries: int) -> str:
    low, high = speech_kit.interval(hits, tries)
    return f"{hits / max(tries, 1):.4f} ({low:.4f}–{high:.4f})"


def _is_good_enough(levels: dict[str, Score]) -> bool:
    low_noise = [levels[level] for level in ("clean", "20 dB") if level in levels]
    few_wrong = all(part.wrong <= MOST_WRONG * part.spoken for part in low_noise)
    quiet = "clean" not in levels or levels["clean"].taken == 0
    return few_wrong and quiet and levels["all"].quantile(0.95) <= MOST_SECONDS


if __name__ == "__main__":
    typer.run(main)
