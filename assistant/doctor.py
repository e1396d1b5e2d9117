"""What works on this bench, and what to do about what does not: recogniser, microphone, loudspeaker, gauges, store.

Nothing here decides anything about a job, and nothing that is heard is kept. Each check stands by itself: one that fails says so, and the
next still runs.
"""

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.core.errors import BadInputError, BenchError, JournalError
from assistant.core.grammar import phrases
from assistant.core.words import Expectation
from assistant.journal.lines import jobs_in, read_record

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

    from assistant.ears.refit import Refitted

    Recording = Callable[[float, str | None], NDArray[numpy.int16]]
    """Seconds and the device's name, to samples; raises NoDeviceError."""

SENTENCE = "six point five thou"
STEP = Expectation("backlash", "in", commands=("take", "help", "why", "go back", "repeat", "undo", "stop", "hold"))
LISTEN_SECONDS = 4.0
LEAST_ROOM_BYTES = 50_000_000


@dataclass(frozen=True)
class Finding:
    """One thing looked at. text: what was seen; remedy: what to do, empty when it works. In English: people are told by `Phrases.reason`."""

    part: str
    works: bool
    text: str
    remedy: str = ""

    @property
    def remedies(self) -> list[str]:
        """Each thing to do by itself; one sentence may name several."""
        return [self.remedy] if self.part != "microphone" else self.remedy.split("; ")


def recogniser(vosk_model: Path | None = None) -> Iterator[Finding]:
    """Our own ear, on a sentence of the bundled voice; and a Vosk model, where one is named."""
    from assistant.ears.net import NET_SHA256, ChangedNetError, NetEar

    try:
        ear = NetEar()
    except ChangedNetError as error:
        yield Finding("recogniser", False, str(error), "install benchhand again: the file of weights is not the one that was measured")
        return
    yield Finding("recogniser", True, f"own net, SHA-256 {NET_SHA256}")
    try:
        sound = _own_voice(SENTENCE)
    except OSError as error:
        yield Finding("recogniser", False, f"cannot be tried: {error}", "install the package espeakng-loader again")
    else:
        heard = ear.hear(sound, ear.load(phrases(STEP)))
        text = f"hears {SENTENCE!r} in {heard.seconds * 1000:.0f} ms" if heard.accepted else f"did not hear {SENTENCE!r}: {heard.reason}"
        yield Finding("recogniser", heard.accepted, text, "" if heard.accepted else "install benchhand again, and tell us the line above")
    if vosk_model is not None:
        yield _vosk(vosk_model)


def _vosk(folder: Path) -> Finding:
    from assistant.hearing import open_hearing

    try:
        hearing = open_hearing("vosk", folder, folder)
    except BadInputError as error:
        return Finding("recogniser", False, str(error), "name the folder of a whole, unpacked model of English")
    assert hearing is not None
    name, unlearnt = hearing.ear.name, ", ".join(hearing.unlearnt)
    return Finding("recogniser", True, f"{name} loads; it will not hear {unlearnt}" if unlearnt else f"{name} loads")


def _own_voice(text: str) -> "NDArray[numpy.float64]":
    import numpy as np

    from assistant.ears import RATE
    from assistant.ears.audio import resampled
    from assistant.mouth.espeak import espeak

    said = text.replace("thou", "[[T'aU]]")  # begins like "thin"; it would say the old pronoun
    speech = resampled(espeak().speech(said) / 32768.0, espeak().rate, RATE)
    quiet = np.zeros(RATE // 2)
    return np.concatenate([quiet, speech, quiet])


def microphone(record: "Recording", name: str | None, tell: Callable[[str], None]) -> Iterator[Finding]:
    """What is plugged in, and four seconds of it: level, noise, and what is heard. tell: gets the sentence that says when to speak."""
    from assistant.ears.crop import Endpointer
    from assistant.ears.devices import NoDeviceError, device_names
    from assistant.ears.net import ChangedNetError, NetEar
    from assistant.ears.recorder import looked_at

    names = device_names("microphone")
    if names:
        yield Finding("microphone", True, f"there is: {', '.join(names)}")
    tell(f"Say, after a moment: {SENTENCE}")
    try:
        samples = record(LISTEN_SECONDS, name)
    except NoDeviceError as error:
        yield Finding("microphone", False, str(error), "plug in a headset or a lapel microphone; until then use --ears typed")
        return
    look = looked_at(samples, Endpointer())
    snr = "unknown" if look.snr_db is None else f"{look.snr_db:.0f} dB"
    text = f"loudest {look.peak_db:.0f} dB, noise {look.noise_db:.0f} dB of full scale, speech over noise {snr}"
    yield Finding("microphone", not look.wrong, text, "; ".join(look.wrong))
    if look.speech_seconds:
        try:
            ear = NetEar()
        except ChangedNetError:
            return  # told already
        heard = ear.hear(samples, ear.load(phrases(STEP)))
        best = heard.best.words if heard.best is not None else "nothing"
        works = heard.chosen is not None and heard.chosen.words == SENTENCE
        remedy = "" if works else "say it as it stands here, in your usual voice; if it stays so, record phrases by doctor --record DIR"
        yield Finding("microphone", works, f"heard {best!r}", remedy)


def loudspeaker(name: str | None, *, silent: bool = False) -> Iterator[Finding]:
    """The voice, and three notes on the loudspeaker. silent: a device that sounds for nobody (for tests)."""
    from assistant.ears.devices import NoDeviceError, device_names
    from assistant.mouth import NoVoiceError, Tone
    from assistant.mouth.espeak import espeak
    from assistant.mouth.loudspeaker import Loudspeaker, notes
    from assistant.mouth.pyttsx3 import open_voice

    names = device_names("loudspeaker")
    if names:
        yield Finding("loudspeaker", True, f"there is: {', '.join(names)}")
    try:
        speaker = Loudspeaker(espeak().rate, name, silent)
    except (NoDeviceError, OSError) as error:
        yield Finding(
            "loudspeaker", False, str(error), "plug one in, or choose another as the system's own; until then use --mouth captions"
        )
        return
    try:
        speaker.play(notes(Tone.LOST, espeak().rate))
        ended = speaker.wait(3.0)
    finally:
        speaker.close()
    remedy = "" if ended else "another program may hold the device: close it"
    yield Finding("loudspeaker", ended, "three notes downward were played: did you hear them?" if ended else "it does not play", remedy)
    if not silent:
        try:
            voice = open_voice()
        except (NoVoiceError, BadInputError) as error:
            yield Finding("loudspeaker", False, str(error), "until then use --mouth captions")
        else:
            voice.close()
            yield Finding("loudspeaker", True, f"voice: {voice.name}")


def gauges_here(settings: Path | None = None) -> Iterator[Finding]:
    """The serial ports, who holds them, and the gauges that were met."""
    from gauges.errors import SettingError
    from gauges.known import known_gauges, settings_file
    from gauges.ports import holder_of, ports

    found = ports()
    if not found:
        yield Finding("gauges", False, "no serial port", "plug the gauge's cable in, or type readings: `dial 0.0065 in`")
    for port in found:
        holder = holder_of(port.device)
        remedy = f"close {holder}, which holds it" if holder else ""
        yield Finding("gauges", holder is None, f"{port.device}: {port.description}", remedy)
    try:
        known = known_gauges(settings_file(settings))
    except SettingError as error:
        yield Finding("gauges", False, str(error), "mend the file, or take it away and meet the gauges again by `benchhand gauges probe`")
        return
    if known:
        yield Finding("gauges", True, f"met before: {', '.join(sorted(known))}")


def store(folder: Path) -> Iterator[Finding]:
    """The folder of the jobs: whether it can be written, holds sound journals, and has room."""
    place = next(parent for parent in (folder, *folder.parents) if parent.exists())
    if not os.access(place, os.W_OK | os.X_OK) or not place.is_dir():
        yield Finding(
            "store", False, f"{folder} cannot be written", "name another by --store DIR or BENCHHAND_STORE, or give yourself the right"
        )
        return
    free = shutil.disk_usage(place).free
    room = free >= LEAST_ROOM_BYTES
    yield Finding(
        "store", room, f"{folder} can be written, {free // 1_000_000} MB free", "" if room else "make room: a job that cannot be kept stops"
    )
    jobs = [job_id for job_id, _ in jobs_in(folder)] if folder.is_dir() else []
    damaged = []
    for job_id in jobs:
        try:
            read_record(folder, job_id)
        except JournalError as error:
            damaged.append(str(error))
    if damaged:
        yield Finding("store", False, "; ".join(damaged), "keep a copy of the file, and tell us; the other jobs are not touched by it")
    elif jobs:
        yield Finding("store", True, f"{len(jobs)} jobs, all readable" if len(jobs) > 1 else "1 job, all readable")


def refit(folder: Path) -> "tuple[str, Refitted]":
    """The ear that was used last in a store, and the bars that its journals ask for. Raises BadInputError: too little was said to tell."""
    from assistant.ears.refit import cases, refitted

    found = []
    for job_id, _ in jobs_in(folder) if folder.is_dir() else []:
        try:
            record = read_record(folder, job_id)
        except BenchError:
            continue  # `store` names it; its figures are left out
        found += list(cases(event for _, event in record.lines))
    # jobs_in gives the one written last first.
    ear = next((case.ear for case in found if case.ear), "")
    return ear, refitted([case for case in found if case.ear == ear and ear])
