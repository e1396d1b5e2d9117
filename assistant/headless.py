"""The same loop on JSON lines: one object in, its batch out; standard input → standard output.

A batch ends in exactly one `wait` or `end`. A line that cannot be taken gives an `error` and the wait that still stands.
"""

import json
from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

from assistant.bench import Bench, Watcher
from assistant.core.axle import CHANNELS
from assistant.core.effects import Effect, Line, speak
from assistant.core.errors import BadInputError, JournalError
from assistant.core.inputs import Bad, Input, Pedal, Quit, Said, Taken
from assistant.core.quantities import Quantity
from assistant.core.show import ending

_EXPECTED = 'expected one of {"say": …}, {"audio": …}, {"gauge": …}, {"pedal": "press"}, {"quit": true}'


def run(bench: Bench, first: Iterable[Effect], lines: Iterable[str], write: Callable[[str], None], watchers: Sequence[Watcher] = ()) -> int:
    """Drive a bench by lines until it ends. write: gets each line out, without its line feed; watchers: who looks on. Gives the exit status.

    0: done or stopped; 1: the job ended out of spec.
    """

    def out(effects: Iterable[Effect], number: int | None) -> str | None:
        batch = tuple(effects)
        for watcher in watchers:
            watcher.watch(bench.state, batch)
        return _write(batch, write, number)

    ended = out(first, None)
    for number, text in enumerate(lines, start=1):
        if ended is None and text.strip():
            ended = out(answer(bench, text), number)
        if ended is not None:
            break
    if ended is None:
        ended = out(bench.give(Quit()), None)
    return 1 if ended == "out of spec" else 0


def answer(bench: Bench, text: str) -> tuple[Effect, ...]:
    """The batch for one line of input. Raises nothing for what a line may hold, nor for a full disk: then the same wait stands."""
    try:
        return _answer(bench, text)
    except JournalError as error:
        return (Effect("error", {"text": str(error)}), speak(str(error), "stop"), ending(bench.state))


def _answer(bench: Bench, text: str) -> tuple[Effect, ...]:
    try:
        data = json.loads(text, parse_float=Decimal)
    except (ValueError, RecursionError):
        return bench.give(Bad(f"the line is not JSON: {_EXPECTED}"))
    if not isinstance(data, dict):
        return bench.give(Bad(f"the line is no object: {_EXPECTED}"))
    at = data.pop("at", None)
    if at is not None and (isinstance(at, bool) or not isinstance(at, int | Decimal)):
        return bench.give(Bad(f'"at" is {at!r}, expected seconds'))
    time = None if at is None else str(at)
    if set(data) == {"audio"} and isinstance(data["audio"], str):
        clip = Path(data["audio"])
        if not clip.is_file():
            return bench.give(Bad(f'"audio" is {data["audio"]!r}, which is no file'), time)
        try:
            return bench.hear(clip, time)
        except BadInputError as error:
            return bench.give(Bad(str(error)), time)
    return bench.give(input_from(data), time)


def input_from(data: dict[str, Any]) -> Input:
    """The input that an object stands for; a `Bad` that says what was expected when it is none."""
    if len(data) == 1:
        (kind, body), *_ = data.items()
        if kind == "say":
            return Said(body) if isinstance(body, str) else Bad(f'"say" is {body!r}, expected words in quotes')
        if kind == "audio":
            return Bad(f'"audio" is {body!r}, expected the path of a clip')
        if kind == "pedal":
            return Pedal() if body == "press" else Bad(f'"pedal" is {body!r}, expected "press"')
        if kind == "quit":
            return Quit() if body is True else Bad(f'"quit" is {body!r}, expected true')
        if kind == "gauge":
            return _taken(body)
    return Bad(f"{', '.join(map(repr, data)) or 'an empty object'} is no input: {_EXPECTED}")


def _taken(body: Any) -> Input:
    wanted = '{"channel": "dial", "value": "0.0065", "unit": "in"}'
    if not isinstance(body, dict) or set(body) != {"channel", "value", "unit"} or not all(isinstance(part, str) for part in body.values()):
        return Bad(f'"gauge" is {json.dumps(body, default=str)}, expected {wanted}')
    if body["channel"] not in CHANNELS:
        return Bad(f"gauge channel {body['channel']!r} is not known, expected one of {', '.join(CHANNELS)}")
    try:
        return Taken(body["channel"], Quantity.of(body["value"], body["unit"]))
    except BadInputError as error:
        return Bad(f"gauge reading: {error}")


def _write(effects: Iterable[Effect], write: Callable[[str], None], number: int | None) -> str | None:
    """Print a batch; gives the verdict when it ended the job."""
    ended: str | None = None
    for effect in effects:
        line: Line = effect.json()
        if effect.kind == "error":
            line = {"error": {"line": number, **effect.body}}
        if effect.kind == "end":
            ended = effect.body["verdict"]
        write(json.dumps(line, ensure_ascii=False))
    return ended
