"""`python -m assistant.benchmarks.jobs typed` and `… kill`: whole jobs through the real command, timed, and cut off at random moments.

The job is a virtual axle's, answered by its technician once, in this process; what he said is the script. The command is then driven by that
script in a process of its own: what it prints is held against what the first run printed, line by line.
"""

import json
import random
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any

import typer

from assistant.bench import new_bench
from assistant.benchmarks.times import at_share
from assistant.files import job_from
from assistant.headless import answer
from assistant.journal.lines import LinesJournal
from assistant.technician import Technician
from assistant.virtual_axle import Build, VirtualAxle

# What makes the exit status 1: a reply later than this at the 95th percentile, or anything at all lost in a crash.
MOST_SECONDS = 0.020
_MOST_INPUTS = 600

Line = dict[str, Any]
app = typer.Typer(no_args_is_help=True, pretty_exceptions_enable=False, help=__doc__)
Seed = Annotated[int, typer.Option(help="The same seed makes the same job and the same moments.")]
Json = Annotated[bool, typer.Option("--json", help="One JSON object on standard output.")]


@dataclass
class Script:
    """One whole job: its file, every input, and the batch after each (the first is the one before any input)."""

    job_toml: str
    inputs: list[Line] = field(default_factory=list)
    batches: list[list[Line]] = field(default_factory=list)

    def recorded(self, inputs: int) -> list[Line]:
        """Every reading that was acknowledged after so many inputs."""
        return [line["recorded"] for batch in self.batches[: inputs + 1] for line in batch if "recorded" in line]

    def last(self, inputs: int) -> Line:
        """The wait or the end after so many inputs."""
        return self.batches[inputs][-1]


def scripted(seed: int) -> Script:
    """A whole typed job: what the technician of a virtual axle says to it, and what it answers. Raises RuntimeError when it does not end."""
    axle = VirtualAxle(Build(), seed)
    script = Script(axle.job_toml())
    hands = Technician(axle, gauges=0.0)
    with tempfile.TemporaryDirectory() as folder:
        journal = LinesJournal(Path(folder), "script", new=True)
        bench, effects = new_bench(job_from(tomllib.loads(script.job_toml), "job.toml"), journal, lambda: "0")
        script.batches.append([effect.json() for effect in effects])
        while "wait" in script.batches[-1][-1]:
            if len(script.inputs) == _MOST_INPUTS:
                raise RuntimeError(f"no end after {_MOST_INPUTS} inputs; the last batch is {script.batches[-1]}")
            hands.observe(script.batches[-1])
            script.inputs.append(hands.answer(script.batches[-1][-1]["wait"]))
            script.batches.append([effect.json() for effect in answer(bench, json.dumps(script.inputs[-1]))])
        journal.close()
    return script


class Command:
    """The headless command in a process of its own."""

    def __init__(self, *arguments: str) -> None:
        """Start it; `first` is the batch that it prints before any input."""
        self.process = subprocess.Popen(
            [sys.executable, "-m", "assistant", *arguments, "--headless"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        )  # fmt: skip
        self.first = self.batch()

    def batch(self) -> list[Line]:
        """The next whole batch. Raises RuntimeError when the output ends before it does."""
        assert self.process.stdout is not None
        lines: list[Line] = []
        for text in self.process.stdout:
            lines.append(json.loads(text))
            if "wait" in lines[-1] or "end" in lines[-1]:
                return lines
        assert self.process.stderr is not None
        raise RuntimeError(f"the output ended within a batch: {lines}; {self.process.stderr.read().decode()}")

    def write(self, text: str) -> None:
        """Hand it some text, whole lines or not."""
        assert self.process.stdin is not None
        self.process.stdin.write(text.encode())
        self.process.stdin.flush()

    def send(self, line: Line) -> list[Line]:
        """One input in, its batch out."""
        self.write(json.dumps(line) + "\n")
        return self.batch()

    def kill(self) -> None:
        """End it as a power cut would: nothing of it runs any more."""
        self.process.kill()
        self.close()

    def close(self) -> int:
        """Close its pipes and wait for it; gives its exit status."""
        for pipe in (self.process.stdin, self.process.stdout, self.process.stderr):
            if pipe is not None:
                with suppress(BrokenPipeError):
                    pipe.close()
        return self.process.wait()


def is_same(batch: Sequence[Line], wanted: Sequence[Line]) -> bool:
    """Whether two batches are the same but for the job's id, which every job has for its own, and the line an error is about."""
    return [_bare(line) for line in batch] == [_bare(line) for line in wanted]


def _bare(line: Line) -> Line:
    body = next(iter(line.values()))
    return {kind: {k: v for k, v in body.items() if k not in ("job", "line")} if kind in ("end", "error") else body for kind in line}


# ---- how fast


@dataclass(frozen=True)
class Timing:
    """seconds: of each reply, from the input's last byte to the wait that follows; start: until the first wait."""

    seconds: tuple[float, ...]
    start: float
    total: float
    verdict: str

    def at(self, share: float) -> float:
        """The reply time that this share of the replies stays below."""
        return at_share(self.seconds, share)


def timed(script: Script, folder: Path) -> Timing:
    """Drive the command by a script. Raises RuntimeError when it prints anything else than the first run did."""
    path = folder / "job.toml"
    path.write_text(script.job_toml, encoding="utf-8")
    began = time.perf_counter()
    command = Command("run", "--job", str(path), "--store", str(folder / "store"))
    start = time.perf_counter() - began
    seconds: list[float] = []
    batch = command.first
    for line, wanted in zip(script.inputs, script.batches[1:], strict=True):
        sent = time.perf_counter()
        batch = command.send(line)
        seconds.append(time.perf_counter() - sent)
        if not is_same(batch, wanted):
            command.kill()
            raise RuntimeError(f"after {line} the command printed {batch}, the first run {wanted}")
    total = time.perf_counter() - began
    command.close()
    return Timing(tuple(seconds), start, total, str(batch[-1]["end"]["verdict"]))


@app.command("typed")
def typed(seed: Seed = 1, as_json: Json = False) -> None:
    """A whole typed job: how long each reply takes, each on disk before it is printed."""
    script = scripted(seed)
    with tempfile.TemporaryDirectory() as folder:
        timing = timed(script, Path(folder))
    figures = {
        "inputs": len(script.inputs), "verdict": timing.verdict, "total_seconds": round(timing.total, 3), "start_seconds": round(timing.start, 3),
        "p50_seconds": round(timing.at(0.5), 4), "p95_seconds": round(timing.at(0.95), 4), "longest_seconds": round(max(timing.seconds), 4),
    }  # fmt: skip
    text = "typed job, seed {seed}: {inputs} inputs in {total_seconds} s ({verdict}); first wait after {start_seconds} s"
    reply = "reply to one input: p50 {p50_seconds} s, p95 {p95_seconds} s, longest {longest_seconds} s"
    typer.echo(json.dumps(figures) if as_json else f"{text}\n{reply}".format(seed=seed, **figures))
    raise typer.Exit(0 if timing.at(0.95) <= MOST_SECONDS else 1)


# ---- what a crash costs


@dataclass
class Crashes:
    """times: how often the process was killed; within: how often before its batch was whole; lost: readings that were acknowledged and are gone;
    other_waits: how often the job stood elsewhere than where it was left; accepted: how often an input whose batch was never seen had counted."""

    times: int = 0
    within: int = 0
    acknowledged: int = 0
    lost: int = 0
    other_waits: int = 0
    accepted: int = 0
    torn: int = 0
    jobs: int = 0


def killed(script: Script, folder: Path, times: int, dice: random.Random) -> Crashes:
    """Kill the command at random moments of a script, again and again, and go on from its journal each time."""
    crashes = Crashes()
    path = folder / "job.toml"
    path.write_text(script.job_toml, encoding="utf-8")
    while crashes.times < times:
        crashes.jobs += 1
        store = folder / f"store {crashes.jobs}"
        command = Command("run", "--job", str(path), "--store", str(store))
        done = 0  # inputs whose batch was seen whole
        while crashes.times < times and done < len(script.inputs):
            for line in script.inputs[done : done + dice.randrange(12)]:
                command.send(line)
                done += 1
            if done == len(script.inputs):
                break
            within = _kill(command, script.inputs[done], dice)
            crashes.times += 1
            crashes.within += within
            command = Command("resume", "--store", str(store))
            done = _compare(command.first, script, done, crashes)
            crashes.torn += len(list(store.glob("*.torn-*")))
        command.kill()
    return crashes


def _kill(command: Command, line: Line, dice: random.Random) -> bool:
    """Kill it between two inputs, in the middle of a line, or while it answers; gives whether that was within an input."""
    moment = dice.random()
    text = json.dumps(line) + "\n"
    if moment < 0.2:
        command.kill()
        return False
    if moment < 0.3:
        command.write(text[: dice.randrange(1, len(text) - 1)])
        command.kill()
        return True
    command.write(text)
    # A reply takes a few milliseconds; the kill falls before, within and after its write to disk.
    time.sleep(dice.uniform(0.0, MOST_SECONDS / 2))
    command.kill()
    return True


def _compare(resumed: Sequence[Line], script: Script, done: int, crashes: Crashes) -> int:
    """Hold what a resumed job prints against the script; gives how many inputs it has taken in: `done`, or the one that was cut off as well."""
    replayed = [{key: value for key, value in line["recorded"].items() if key != "replayed"} for line in resumed if "recorded" in line]
    acknowledged = script.recorded(done)
    crashes.acknowledged += len(acknowledged)
    crashes.lost += sum(1 for reading in acknowledged if reading not in replayed)
    for inputs in (done, done + 1):
        if replayed == script.recorded(inputs) and _bare(resumed[-1]) == _bare(script.last(inputs)):
            crashes.accepted += inputs - done
            return inputs
    crashes.other_waits += 1
    raise RuntimeError(f"after {done} inputs the job was left at {script.last(done)}; it goes on with {list(resumed)}")


@app.command("kill")
def kill(
    times: Annotated[int, typer.Option(min=1, help="How often the process is killed.")] = 200, seed: Seed = 1, as_json: Json = False
) -> None:
    """Kill a job at random moments (signal 9) and go on with it: nothing acknowledged may be lost, and it waits where it was left."""
    script = scripted(seed)
    began = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        crashes = killed(script, Path(folder), times, random.Random(seed))
    seconds = time.perf_counter() - began
    figures = {**vars(crashes), "seconds": round(seconds, 1)}
    text = (
        "killed {times} times in {jobs} jobs ({within} within an input), {seconds} s\n"
        "acknowledged readings lost: {lost} of {acknowledged}; waits other than the one left: {other_waits}\n"
        "inputs that counted although their batch was never seen: {accepted}; torn batches set aside: {torn}"
    )
    typer.echo(json.dumps(figures) if as_json else text.format(**figures))
    raise typer.Exit(1 if crashes.lost or crashes.other_waits else 0)


if __name__ == "__main__":
    app()
