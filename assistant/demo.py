"""`benchhand demo`: a whole job on a recorded bench, heard and read for real.

Every spoken word is a WAV through the recogniser, every gauge reading a capture through its decoder; nothing in the script says what was
meant. The axle, its shop and its numbers are invented, and the voices are synthesised (recordings_demo/SOURCES.md).
"""

import json
import tempfile
import textwrap
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant.bench import Bench, new_bench
from assistant.clock import new_job_id, now
from assistant.core.effects import Effect
from assistant.core.errors import BadInputError
from assistant.core.inputs import Bad, Input, Said, Taken, Unheard
from assistant.core.quantities import Quantity
from assistant.core.state import State
from assistant.files import read_job
from assistant.hearing import Hearing
from assistant.journal.lines import LinesJournal, read_record
from assistant.report import sheet
from assistant.report.text import as_text

if TYPE_CHECKING:
    from assistant.mouth.pyttsx3 import Pyttsx3Mouth

WIDTH = 110
# Pauses so that a person can follow: the whole demo stays under a minute.
_PAUSE_SECONDS = 0.2
# A steady reading: so many frames at the end of a capture, all within one count of the last (docs/gauges.md, settling).
_STEADY_FRAMES = 4
_CHANNELS = {"dial": "dial", "micrometer": "micrometer", "depth": "depth", "caliper": "caliper", "torque": "torque"}


def recordings() -> Path:
    """The folder of the recorded bench: inside the installed package, or beside it in a checkout. Raises BadInputError."""
    here = Path(__file__).parent
    for folder in (here / "recordings_demo", here.parent / "recordings_demo"):
        if (folder / "script.jsonl").exists():
            return folder
    raise BadInputError("the recordings of the demo are missing: install benchhand anew")


@dataclass
class Demo:
    """One run. write: takes each line to show; watch: gets each batch and the state after it, on disk."""

    folder: Path
    write: Callable[[str], None]
    pause: Callable[[float], None]
    mouth: "Pyttsx3Mouth | None" = None
    watch: Callable[[State, tuple[Effect, ...]], None] = lambda _state, _effects: None
    heard: int = 0
    refused_frames: int = 0
    caught: list[str] = field(default_factory=list)
    _hearing: Hearing = field(default_factory=Hearing)

    def run(self) -> str:
        """Play the whole job; gives its verdict."""
        with tempfile.TemporaryDirectory(prefix="benchhand-demo-") as store:
            journal = LinesJournal(Path(store), new_job_id(), new=True)
            try:
                return self._play(journal, Path(store))
            finally:
                journal.close()

    def _play(self, journal: LinesJournal, store: Path) -> str:
        bench, first = new_bench(read_job(self.folder / "job.toml"), journal, now)
        verdict = self._show(first)
        self.watch(bench.state, first)
        for number, line in enumerate(script(self.folder), start=1):
            if verdict is not None:
                raise BadInputError(f"script.jsonl, line {number}: the job has ended already")
            effects = bench.give(self._input(line, bench))
            verdict = self._show(effects)
            self.watch(bench.state, effects)
        record = read_record(store, bench.state.job_id)
        self._finish(as_text(sheet(record.lines, record.sha256)))
        return verdict or "stopped"

    def _input(self, line: dict[str, Any], bench: Bench) -> Input:
        if "note" in line:
            self._tell("--", str(line["note"]))
        if "hear" in line:
            return self._hear(str(line["hear"]), bench)
        if "gauge" in line:
            return self._read(line["gauge"])
        return Bad("a line of the script is neither heard nor read")

    def _hear(self, clip: str, bench: Bench) -> Input:
        """One WAV through the recogniser, as what can be said now."""
        given = self._hearing.listen(self.folder / "clips" / clip, bench.state)
        self.heard += 1
        figures = self._hearing.last
        assert figures is not None
        if isinstance(given, Unheard):
            self._tell("mic", f"{clip}: not sure enough ({given.reason})")
            return given
        assert isinstance(given, Said)
        noise = f", {figures.snr_db:.0f} dB over the noise" if figures.snr_db is not None and figures.snr_db < 30 else ""
        self._tell(
            "mic", f'{clip}: "{given.words}"   posterior {given.posterior:.3f}, fit {given.fit:.2f}, {figures.seconds * 1000:.0f} ms{noise}'
        )
        return given

    def _read(self, gauge: dict[str, str]) -> Input:
        """One capture through its decoder: the frames at its end must stand still."""
        from gauges.formats import decode
        from gauges.reading import Reading

        raw = (self.folder / "captures" / gauge["capture"]).read_bytes()
        decoder = decode(
            gauge["format"], unit=gauge.get("unit"), parity=gauge.get("parity", "even7" if gauge["format"].endswith("-cr") else "none")
        )
        events = [*decoder.feed(raw), *decoder.finish()]
        readings = [event for event in events if isinstance(event, Reading)]
        refused = len(events) - len(readings)
        self.refused_frames += refused
        last = readings[-_STEADY_FRAMES:]
        channel, unit = gauge["channel"], readings[-1].unit if readings else gauge.get("unit", "?")
        told = f"{gauge['capture']}: {len(raw)} bytes of {gauge['format']}, {len(readings)} frames read, {refused} refused"
        if len(last) < _STEADY_FRAMES or len({reading.value for reading in last}) > 1:
            self._tell("gauge", f"{told}; it does not stand still")
            return Bad(f"the {channel} gauge does not stand still")
        self._tell("gauge", f"{told} -> {last[-1].value} {unit} on the {channel}")
        return Taken(_CHANNELS[channel], Quantity(last[-1].value, last[-1].unit), f"{channel} ({gauge['format']})", last[-1].raw.hex())

    def _show(self, effects: tuple[Effect, ...]) -> str | None:
        verdict = None
        for effect in effects:
            body = effect.body
            if effect.kind == "speak":
                self._speak(str(body), effect.urgency or "info")
            elif effect.kind == "step":
                self.write(f"\n== {body['title']}")
            elif effect.kind == "recorded":
                unit = f" {body['unit']}" if body["unit"] else ""
                spot = f" at place {body['spot']}" if body["spot"] else ""
                self._tell("disk", f"[{body['id']}] {body['quantity'].replace('_', ' ')}{spot} = {body['value']}{unit}")
            elif effect.kind == "move":
                stack = " + ".join(shim["value"] for shim in body["stack"])
                chance = f", chance {body['chance']}" if body["chance"] else ""
                change = f"{body['part'].replace('_', ' ')}: {body['from']['value']} -> {body['to']['value']} {body['to']['unit']}"
                self._tell("sum", f"{change}{f' = {stack}' if stack else ''}{chance}")
            elif effect.kind == "alarm":
                odds = "; ".join(f"{each['cause']} {each['odds']}" for each in body["likely"])
                self._tell("odds", odds)
                self.caught.append(str(body["text"]))
            elif effect.kind == "end":
                verdict = str(body["verdict"])
        self.pause(_PAUSE_SECONDS)
        return verdict

    def _speak(self, text: str, urgency: str) -> None:
        self._tell({"ask": "?", "warn": "!", "stop": "!!"}.get(urgency, ">"), text)
        if self.mouth is not None:
            self.mouth.say(text, urgency)
            self.mouth.wait(60.0)

    def _tell(self, mark: str, text: str) -> None:
        for index, line in enumerate(textwrap.wrap(text, WIDTH - 8)):
            self.write(f"{mark if index == 0 else '':>6}  {line}")

    def _finish(self, text: str) -> None:
        self.write("")
        self.write(text)
        self.write(f"{self.heard} clips heard; {self.refused_frames} damaged or half frames refused, none of them became a number.")
        for each in self.caught:
            self.write(f"caught: {each}")


def script(folder: Path) -> Iterator[dict[str, Any]]:
    """The lines of the recorded bench, in order."""
    for line in (folder / "script.jsonl").read_text(encoding="utf-8").splitlines():
        if line.strip():
            yield json.loads(line)


def run(*, quick: bool, aloud: bool, write: Callable[[str], None]) -> int:
    """The whole demo. Gives the exit status: 0 when the job ended in spec. Raises BenchError."""
    folder = recordings()
    mouth = None
    if aloud:
        from assistant.mouth.pyttsx3 import Pyttsx3Mouth

        mouth = Pyttsx3Mouth()
    write("A recorded bench: invented axle, invented shop, synthesised voices; real recogniser, real decoders, the real program.")
    write("mic = what was heard   gauge = what was read   > ? ! = what is said   disk = what is kept   sum = what was computed")
    verdict = Demo(folder, write, (lambda _: None) if quick or aloud else time.sleep, mouth).run()
    if mouth is not None:
        mouth.close()
    return 0 if verdict == "in spec" else 1
