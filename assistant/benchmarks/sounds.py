"""`python -m assistant.benchmarks.sounds`: how soon the mouth can begin, and what listening costs while nobody speaks."""

import time
from collections.abc import Iterable

import typer

from assistant.benchmarks.times import at_share
from assistant.core.grammar import value_set
from assistant.core.saying import read_back
from assistant.files import phrases_for

READ_BACKS = (("backlash", "in", "thou"), ("pinion_drag", "lb-in", "count"))
"""Quantity, unit and the form that was heard."""


def main(seconds: float = 60.0) -> None:
    """Render every read-back of two steps and the first sentence of every step; then listen to `seconds` of room noise."""
    from assistant.mouth.bundled import sentences
    from assistant.mouth.espeak import espeak

    espeak()  # started with the program, not with the first word
    said = [f"{read_back(value, form)}?" for quantity, unit, form in READ_BACKS for value in value_set(quantity, unit)]
    _tell("read-backs", said)
    _tell("first sentences of steps", [sentences(step.say)[0] for step in phrases_for().steps.values()])
    spent = listening(seconds)
    typer.echo(f"listening to {seconds:g} s of room noise: {spent:.2f} s of CPU, {100 * spent / seconds:.1f} % of one core")


def _tell(name: str, texts: Iterable[str]) -> None:
    from assistant.mouth.bundled import rendered

    taken = []
    for text in texts:
        rendered.cache_clear()
        begun = time.perf_counter()
        rendered(text)
        taken.append(time.perf_counter() - begun)
    taken.sort()
    middle, late = at_share(taken, 0.5), at_share(taken, 0.95)
    typer.echo(f"{name} ({len(taken)}): to the first sound {middle:.3f} s in the middle, {late:.3f} s at p95, {taken[-1]:.3f} s at most")


def listening(seconds: float) -> float:
    """CPU seconds that the microphone's ear takes for so much room noise, of which nobody speaks."""
    import numpy as np

    from assistant.ears import RATE
    from assistant.ears.crop import BLOCK
    from assistant.ears.microphone import Listener

    listener = Listener()
    noise = np.random.default_rng(1).normal(0.0, 100.0, round(seconds * RATE)).astype(np.int16)
    begun = time.process_time()
    for at in range(0, len(noise), BLOCK):
        listener.feed(noise[at : at + BLOCK], at / RATE)
    return time.process_time() - begun


if __name__ == "__main__":
    typer.run(main)
