"""`python -m assistant.benchmarks.replies`: from the end of speech to the first sound of the reply, in real time.

Readings spoken by the bundled espeak go, block by block and as slowly as a microphone gives them, through everything between a microphone and
a loudspeaker: detector, net, job, journal on disk, voice. Each is then refused by a typed "no", so that the same is waited for again. What is
told is the time beyond the pause that ends an utterance; the loudspeaker's own buffer comes on top, and the microphone's.
"""

import random
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from assistant.bench import Bench, new_bench
from assistant.benchmarks.times import at_share
from assistant.clock import now
from assistant.core.grammar import spoken_forms, value_set
from assistant.core.inputs import Said
from assistant.ears import RATE
from assistant.ears.crop import BLOCK, HANG_OVER_SECONDS
from assistant.ears.microphone import Listener, Utterance
from assistant.files import read_job
from assistant.hearing import Hearing
from assistant.journal.lines import LinesJournal
from assistant.live import Loop
from assistant.mouth import Tone

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

MOST_SECONDS = 0.200
VOICES = ("en-us", "en-us+f2", "en-gb-x-rp", "en-us+m3")
_ROOM = 30.0  # root mean square of the room's noise, of 32768


class FirstSound:
    """A mouth up to the moment when its loudspeaker could begin."""

    name: str = "first sound"
    is_speaking: bool = False
    trouble: str = ""

    def __init__(self) -> None:
        self.at: float | None = None
        self.came = threading.Event()

    def say(self, text: str, urgency: str = "info", slower: bool = False) -> None:  # noqa: ARG002 - as the protocol
        """Render the first sentence, as the bundled voice does before it plays."""
        from assistant.mouth.bundled import rendered, sentences

        if self.at is None:
            rendered(sentences(text)[0], slower)
            self._sounds()

    def tone(self, tone: Tone) -> None:
        """A tone needs no rendering; "speak now" is no reply."""
        if tone is Tone.AGAIN:
            self._sounds()

    def _sounds(self) -> None:
        if self.at is None:
            self.at = time.monotonic()
            self.came.set()

    def hush(self) -> bool:
        """Nothing is played."""
        return False

    def wait(self, seconds: float) -> bool:  # noqa: ARG002 - as the protocol
        """Nothing is played."""
        return True

    def close(self) -> None:
        """Nothing is held."""


def main(
    job: Path = typer.Option(Path("recordings_demo/job.toml"), help="A job whose first reading is a backlash in inches."),  # noqa: B008 - typer's way
    count: int = 60,
    seed: int = 1,
) -> None:
    """Tell the 50th and 95th percentile over so many readings, with and without decoding ahead; status 1 where the bound is missed."""
    late = 0.0
    for is_ahead in (False, True):
        taken = sorted(waits(job, count, seed, is_ahead=is_ahead))
        late = at_share(taken, 0.95)
        how = "decoded during the closing pause" if is_ahead else "decoded after it"
        typer.echo(f"{how} ({len(taken)}): {at_share(taken, 0.5):.3f} s in the middle, {late:.3f} s at p95, {taken[-1]:.3f} s at most")
    raise typer.Exit(0 if late <= MOST_SECONDS else 1)


def waits(job: Path, count: int, seed: int, *, is_ahead: bool, pause: Callable[[float], object] = time.sleep) -> list[float]:
    """Seconds beyond the closing pause to the first sound, one for each reading. pause: waits until the next block is due."""
    dice = random.Random(seed)
    mouth, hearing = FirstSound(), Hearing()
    found: list[float] = []
    with tempfile.TemporaryDirectory() as folder:
        journal = LinesJournal(Path(folder), "job", new=True)
        bench, first = new_bench(read_job(job), journal, now)
        _go_to_a_reading(bench)
        loop = Loop(bench, (mouth,), lambda _effect: None, hearing=hearing)
        worker = threading.Thread(target=loop.run, args=(first,), daemon=True)
        worker.start()
        for value in dice.choices(value_set("backlash", "in"), k=count):
            words = dice.choice(spoken_forms(value, "backlash"))[1]
            mouth.came.clear()
            mouth.at = None
            ended = _spoken(loop, _clip(words, dice.choice(VOICES), dice.randrange(2**31)), is_ahead, pause)
            if ended is None or not mouth.came.wait(5.0) or mouth.at is None:
                continue
            found.append(mouth.at - ended - HANG_OVER_SECONDS)
            _refuse(loop)
        loop.put(None)
        worker.join(10.0)
        journal.close()
    hearing.close()
    return found


def _go_to_a_reading(bench: Bench) -> None:
    from assistant.core.waits import wait

    for words in ("done", "still together"):
        bench.give(Said(words))
    here = wait(bench.state)
    if here is None or here.quantity != "baseline_backlash":
        raise typer.BadParameter("the job does not begin with the backlash before teardown: expected one such as the demo's")


def _refuse(loop: Loop) -> None:
    """Take a question back, where there is one, so that the same reading is waited for again."""
    state = loop.bench.state
    if state.offered is None and state.asked is None and state.two is None:
        return
    loop.put(Said("no" if state.two is None else "neither"))
    until, moment = time.monotonic() + 5.0, threading.Event()
    while loop.bench.state is state and time.monotonic() < until:
        moment.wait(0.005)


def _spoken(loop: Loop, samples: "NDArray[numpy.int16]", is_ahead: bool, pause: Callable[[float], object]) -> float | None:
    """Feed a clip at the pace of a microphone, from a thread that is not the loop's. Gives when its speech ended, on the clock; None for none."""
    listener, began = Listener(), time.monotonic()
    ended: float | None = None
    for at in range(0, len(samples), BLOCK):
        due = began + (at + BLOCK) / RATE
        pause(max(0.0, due - time.monotonic()))
        events: Sequence[object] = listener.feed(samples[at : at + BLOCK], due)
        for event in events:
            if isinstance(event, Utterance):
                ended = event.ended
                loop.put(event)
        foreseen = listener.foreseen() if is_ahead else None
        if foreseen is not None:
            loop.foreseen(foreseen)
    return ended


def _clip(words: str, voice: str, seed: int) -> "NDArray[numpy.int16]":
    """A reading with a second of room before it and after it."""
    import numpy as np

    from assistant.ears.audio import resampled
    from assistant.mouth.espeak import espeak

    text = " ".join("[[T'aU]]" if word == "thou" else word for word in words.split())
    speech = resampled(espeak().speech(text, voice, 150) / 32768.0, espeak().rate, RATE)
    quiet = np.zeros(RATE)
    clip = np.concatenate([quiet, speech * (0.5 / np.abs(speech).max()), quiet]) * 32767
    return np.clip(clip + np.random.default_rng(seed).normal(0.0, _ROOM, len(clip)), -32768, 32767).astype(np.int16)


if __name__ == "__main__":
    typer.run(main)
