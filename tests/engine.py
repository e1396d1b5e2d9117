"""The engine behind a `send`: in this process, or as the command in a process of its own."""

import json
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from assistant.bench import Bench, new_bench, resume_bench
from assistant.core.effects import Effect
from assistant.files import read_job
from assistant.headless import answer
from assistant.journal.lines import LinesJournal
from tests.driver import Line


class InProcess:
    """One job in this process, journalled as the command does it. `first` is the batch before any input."""

    def __init__(self, job_toml: str, folder: Path, job_id: str = "job") -> None:
        folder.mkdir(parents=True, exist_ok=True)
        path = folder / "job.toml"
        path.write_text(job_toml, encoding="utf-8")
        self.folder, self.job_id = folder, job_id
        bench, effects = new_bench(read_job(path), LinesJournal(folder, job_id, new=True), lambda: "0")
        self._begin(bench, effects)

    def _begin(self, bench: Bench, effects: tuple[Effect, ...]) -> None:
        self.bench, self.count = bench, 0
        self.first = self._lines(effects)

    def _lines(self, effects: tuple[Effect, ...]) -> list[Line]:
        # Through JSON text, as on standard output: what is not JSON, or turns into a float on the way, must not pass unseen.
        return [json.loads(json.dumps(_line(effect, self.count), ensure_ascii=False)) for effect in effects]

    def send(self, line: Line) -> list[Line]:
        """One input line in, its batch out."""
        self.count += 1
        return self._lines(answer(self.bench, json.dumps(line, ensure_ascii=False)))

    def __enter__(self) -> "InProcess":
        return self

    def __exit__(self, *error: object) -> None:
        self.bench.journal.close()

    def resume(self) -> list[Line]:
        """As if the power had gone: the job again from its journal alone. Gives the batch before any further input."""
        self.bench.journal.close()
        found = resume_bench(LinesJournal(self.folder, self.job_id, new=False), lambda: "0")
        self._begin(found.bench, found.effects)
        return self.first


def _line(effect: Effect, number: int) -> Any:
    return {"error": {"line": number, **effect.body}} if effect.kind == "error" else effect.json()


class Command:
    """The command in a process of its own."""

    def __init__(self, *arguments: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "assistant", *arguments],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, encoding="utf-8",
        )  # fmt: skip
        self.first = self._batch()

    def _batch(self) -> list[Line]:
        assert self.process.stdout is not None
        batch: list[Line] = []
        for text in self.process.stdout:
            batch.append(json.loads(text))
            if "wait" in batch[-1] or "end" in batch[-1]:
                return batch
        assert self.process.stderr is not None
        raise AssertionError(f"the output ended within a batch: {batch}; {self.process.stderr.read()}")

    def send(self, line: Line) -> list[Line]:
        """One input line in, its batch out."""
        assert self.process.stdin is not None
        self.process.stdin.write(json.dumps(line, ensure_ascii=False) + "\n")
        self.process.stdin.flush()
        return self._batch()

    def finish(self) -> int:
        """Close its input; gives the exit status."""
        for pipe in (self.process.stdin, self.process.stdout, self.process.stderr):
            assert pipe is not None
            if pipe is self.process.stdin:
                pipe.close()
        status = self.process.wait(timeout=60)
        for pipe in (self.process.stdout, self.process.stderr):
            assert pipe is not None
            pipe.close()
        return status


@contextmanager
def command(*arguments: str) -> Iterator[Command]:
    """`Command`, ended by force if a test leaves it running."""
    running = Command(*arguments)
    try:
        yield running
    finally:
        if running.process.poll() is None:
            running.process.kill()
            running.finish()
