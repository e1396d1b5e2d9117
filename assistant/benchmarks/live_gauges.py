"""Gauges at work: eight at once for a minute, and how long it takes from the last byte of a value to the first word about it.

Run it with `python -m assistant.benchmarks.live_gauges [SECONDS] [VALUES]`, 60 and 200 when left out; Linux, for it needs pseudo-terminals. The
gauges are written to by a process of their own, so its work does not count. Exit status 1 when anything is lost or a bound is missed.
"""

import math
import os
import queue
import subprocess
import sys
import tempfile
import time
import tty
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from assistant.bench import Bench, new_bench
from assistant.benchmarks.times import at_share
from assistant.clock import now
from assistant.core.inputs import Said
from assistant.core.waits import wait
from assistant.files import read_job
from assistant.journal.lines import LinesJournal
from assistant.live import Loop
from assistant.live_gauges import JobGauges, Station
from assistant.mouth.captions import Captions
from gauges.benchmark import frames_of
from gauges.feed import Notice, Received
from gauges.reading import Reading
from gauges.settings import GaugeSettings

GAUGES, RATE = 8, 50
MOST_OF_A_CORE, MOST_SECONDS = 0.25, 0.150
# Seventeen bytes at 9600: fifty a second is nearly what such a line can carry. Every frame checks itself, so that a lost one is a lost one.
_STREAMING = "stx-etx-bcc"
_WRITER = """
import os, sys, time
fds = [int(fd) for fd in sys.argv[2:]]
frames = open(sys.argv[1], 'rb').read().splitlines()
began = time.monotonic()
for turn, frame in enumerate(frames):
    time.sleep(max(0.0, began + turn / {rate} - time.monotonic()))
    for fd in fds:
        os.write(fd, bytes.fromhex(frame.decode()))
"""


@dataclass(frozen=True)
class LoadResult:
    """sent, read: values of all gauges; in_order: whether each gauge's came whole and in order; core: share of one core's time."""

    sent: int
    read: int
    in_order: bool
    dropped: int
    core: float


class _Counting(Station):
    """A station that keeps what every gauge read."""

    def __init__(self, parts: Sequence[GaugeSettings]) -> None:
        super().__init__(parts, lambda _: None)
        self.read: dict[str, list[str]] = {part.name: [] for part in parts}

    def absorb(self, notice: Notice) -> None:
        if isinstance(notice, Received) and isinstance(notice.event, Reading):
            self.read[notice.gauge].append(notice.event.text)
        super().absorb(notice)


def _terminals(count: int) -> list[tuple[int, int, str]]:
    """Pseudo-terminals: our end, the gauge's end kept open, its name."""
    pairs = []
    for _ in range(count):
        ours, theirs = os.openpty()
        tty.setraw(ours)
        tty.setraw(theirs)
        pairs.append((ours, theirs, os.ttyname(theirs)))
    return pairs


def load(seconds: float, *, gauges: int = GAUGES, rate: int = RATE) -> LoadResult:
    """So many gauges at so many values a second each, followed by one station."""
    count = round(seconds * rate)
    frames = frames_of(_STREAMING, [turn % 10_000 for turn in range(count)])
    wanted = [f"{turn % 10_000 / 1000:.3f}" for turn in range(count)]
    pairs = _terminals(gauges)
    station = _Counting([GaugeSettings(f"gauge {turn + 1}", _STREAMING, name, deaf_seconds=0.0) for turn, (_, _, name) in enumerate(pairs)])
    with tempfile.TemporaryDirectory() as folder:
        script = Path(folder, "frames")
        script.write_text("\n".join(frame.hex() for frame in frames))
        station.start()
        for worker in station._live._workers.values():
            worker.opened.wait(10)
        fds = [ours for ours, _, _ in pairs]
        began, used = time.monotonic(), time.process_time()
        writer = subprocess.Popen([sys.executable, "-c", _WRITER.format(rate=rate), str(script), *map(str, fds)], pass_fds=fds)
        writer.wait()
        until = time.monotonic() + 2
        while time.monotonic() < until and any(len(read) < count for read in station.read.values()):
            time.sleep(0.01)
        core = (time.process_time() - used) / (time.monotonic() - began)
    station.close()
    for ours, theirs, _ in pairs:
        os.close(ours)
        os.close(theirs)
    in_order = all(read == wanted for read in station.read.values())
    return LoadResult(count * gauges, sum(map(len, station.read.values())), in_order, station.dropped, core)


def delays(count: int, job: Path) -> list[float]:
    """Seconds from the last byte of a value to the first word about it, in a job with its journal on disk; the value is then taken back."""
    (pair,) = _terminals(1)
    ours, theirs, name = pair
    words: queue.SimpleQueue[float] = queue.SimpleQueue()
    found = []
    with tempfile.TemporaryDirectory() as folder:
        journal = LinesJournal(Path(folder), "job", new=True)
        bench, _ = new_bench(read_job(job), journal, now)
        _go_to_a_dial(bench)
        loop = Loop(bench, (Captions(lambda _text, _urgency: words.put(time.perf_counter())),), lambda _effect: None)
        gauges = JobGauges([GaugeSettings("dial", "multi-feature-cr", name, deaf_seconds=0.0)], loop.put)
        loop.gauges = gauges
        gauges.start()
        gauges.station._live._workers["dial"].opened.wait(10)
        for turn in range(count):
            frame = f"1 +000.{30 + turn % 10} mm\r".encode()
            os.write(ours, bytes(byte | (0x80 if byte.bit_count() % 2 else 0) for byte in frame))
            sent = time.perf_counter()
            at, item = loop.waiting.get(timeout=10)
            loop._take(item, at)
            found.append(words.get() - sent)
            loop._take(Said("no"), at)
            while not words.empty():
                words.get()
        gauges.close()
        journal.close()
    os.close(ours)
    os.close(theirs)
    return found


def _go_to_a_dial(bench: Bench) -> None:
    """The first reading of a dial."""
    for _ in range(20):
        here = wait(bench.state)
        assert here is not None
        if here.kind == "reading" and here.quantity in ("baseline_backlash", "backlash"):
            return
        bench.give(
            Said({"done": "done", "caution": "understood", "choice": here.choices[0] if here.choices else ""}.get(here.kind, "done"))
        )
    raise AssertionError("no reading of a dial within twenty answers")


def main(seconds: float, count: int, job: Path) -> int:
    """Print both measures; exit status 1 when anything is lost or a bound is missed."""
    result = load(seconds)
    sys.stdout.write(
        f"{GAUGES} gauges, {RATE} values a second each, {seconds:g} s: {result.read} of {result.sent} read, "
        f"{'in order' if result.in_order else 'NOT IN ORDER'}, {result.dropped} dropped, {result.core:.1%} of one core\n"
    )
    slowest = sorted(delays(count, job))
    late = slowest[math.ceil(0.95 * len(slowest)) - 1]
    sys.stdout.write(
        f"last byte to first word, {count} values: median {at_share(slowest, 0.5) * 1000:.1f} ms, "
        f"95 % within {late * 1000:.1f} ms, slowest {slowest[-1] * 1000:.1f} ms\n"
    )
    return int(not result.in_order or result.core > MOST_OF_A_CORE or late > MOST_SECONDS)


if __name__ == "__main__":
    sys.exit(
        main(
            float(sys.argv[1]) if len(sys.argv) > 1 else 60.0,
            int(sys.argv[2]) if len(sys.argv) > 2 else 200,
            Path(sys.argv[3]) if len(sys.argv) > 3 else Path("recordings_demo/job.toml"),
        )
    )
