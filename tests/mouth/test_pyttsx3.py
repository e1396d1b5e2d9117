"""The speaking mouth, with real voices: the bundled one on a silent device that keeps time, and pyttsx3 with the dummy driver it ships."""

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.ears.devices import NoDeviceError
from assistant.mouth import Mouth, NoVoiceError, Tone
from assistant.mouth.bundled import VOICES, BundledVoice, rendered
from assistant.mouth.espeak import espeak
from assistant.mouth.loudspeaker import Loudspeaker, notes
from assistant.mouth.pyttsx3 import DRIVERS, DriverVoice, Pyttsx3Mouth, Voice, open_voice, voice_of
from tests.suites.mouth import PATIENCE, MouthSuite


class Told:
    """A voice that writes down what it begins to say and lets another say it."""

    def __init__(self, voice: Voice, said: list[str]) -> None:
        self.name, self._voice, self._said = voice.name, voice, said

    def speak(self, text: str, slower: bool, is_hushed: Callable[[], bool]) -> None:
        self._said.append(text)
        self._voice.speak(text, slower, is_hushed)

    def tone(self, tone: Tone, is_hushed: Callable[[], bool]) -> None:
        self._said.append(f"({tone.value})")
        self._voice.tone(tone, is_hushed)

    def close(self) -> None:
        self._voice.close()


def on_a_silent_device(language: str = "en") -> BundledVoice:
    return BundledVoice(Loudspeaker(espeak().rate, silent=True), language=language)


class TestBundled(MouthSuite):
    def make(self) -> Mouth:
        self.begun: list[str] = []
        return Pyttsx3Mouth(lambda: Told(on_a_silent_device(), self.begun))

    def said(self) -> list[str]:
        return self.begun


class TestBundledGerman(MouthSuite):
    """By the same suite: only the voice differs."""

    def make(self) -> Mouth:
        self.begun: list[str] = []
        return Pyttsx3Mouth(lambda: Told(on_a_silent_device("de"), self.begun))

    def said(self) -> list[str]:
        return self.begun


class TestDriver(MouthSuite):
    """The dummy driver says a sentence in no time: too short to be caught speaking or to be hushed."""

    is_heard = False

    def make(self) -> Mouth:
        self.begun: list[str] = []
        return Pyttsx3Mouth(lambda: Told(DriverVoice("dummy", Loudspeaker(22_050, silent=True)), self.begun))

    def said(self) -> list[str]:
        return self.begun

    def test_saying_does_not_wait(self, mouth: Mouth) -> None:
        mouth.say("turn the pinion five times before the reading")
        assert mouth.wait(PATIENCE)

    def test_hush_cuts_off_what_is_said_and_forgets_what_waits(self, mouth: Mouth) -> None:
        mouth.say("one")
        mouth.hush()
        mouth.say("six")
        assert mouth.wait(PATIENCE)
        assert self.said()[-1] == "six"

    def test_hushing_silence_is_no_fault(self, mouth: Mouth) -> None:
        assert not mouth.hush()


def test_a_driver_that_is_not_there_is_named() -> None:
    with pytest.raises(NoVoiceError, match="its driver nosuch"):
        Pyttsx3Mouth(lambda: DriverVoice("nosuch"))


def test_a_driver_that_never_tells_the_end_is_not_waited_for_for_ever(monkeypatch: pytest.MonkeyPatch) -> None:
    voice = DriverVoice("dummy")
    monkeypatch.setattr(voice, "_end", None)
    voice._engine._connects.clear()
    monkeypatch.setattr("assistant.mouth.pyttsx3.LEAST_SECONDS", 0.05)
    monkeypatch.setattr("assistant.mouth.pyttsx3.MOST_SECONDS_A_WORD", 0.05)
    began = time.monotonic()
    voice.speak("six thousandths", False, lambda: False)
    assert time.monotonic() - began < 10  # two words of 0.05 s each; the rest is a busy machine
    voice.close()


def test_without_a_voice_of_the_system_the_bundled_one_speaks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("assistant.mouth.pyttsx3.BundledVoice", on_a_silent_device)
    # pyttsx3's drivers for the other systems cannot start on this one, and for Linux none is used.
    for platform in {"linux", "win32", "darwin"} - ({sys.platform} - {"linux"}):
        monkeypatch.setattr(sys, "platform", platform)
        voice = open_voice()
        assert voice.name == "bundled espeak-ng, en-us"
        voice.close()


def test_a_lost_loudspeaker_is_told_and_looked_for_again() -> None:
    voices: list[BundledVoice] = []

    def next_voice() -> Voice:
        loudspeaker = Loudspeaker(espeak().rate, silent=True)
        voices.append(BundledVoice(loudspeaker))
        if len(voices) == 1:
            # Closed behind the voice's back, the device asks for no more samples, as when its plug is pulled.
            loudspeaker.close()
        return voices[-1]

    mouth = Pyttsx3Mouth(next_voice)
    mouth.say("one")
    assert mouth.wait(PATIENCE)
    assert "loudspeaker has gone: plug it in" in mouth.trouble
    mouth.say("six")
    assert mouth.wait(PATIENCE)
    assert mouth.trouble == ""
    assert len(voices) == 2
    mouth.close()


def test_a_computer_without_sound_is_told_at_once() -> None:
    def none() -> Voice:
        raise NoDeviceError("no loudspeaker: this computer has no sound system")

    with pytest.raises(NoDeviceError, match="no sound system"):
        Pyttsx3Mouth(none)


def test_a_device_that_is_not_plugged_in_is_refused_by_name() -> None:
    with pytest.raises(NoDeviceError, match="loudspeaker 'the good one' is not plugged in"):
        Loudspeaker(22_050, "the good one")


def test_speech_is_rendered_to_its_peak_and_kept() -> None:
    speech = rendered("six point five thousandths")
    assert np.abs(speech).max() == round(0.9 * 32767)
    assert rendered("six point five thousandths") is speech


def test_german_is_spoken_by_a_german_voice() -> None:
    spoken = rendered("acht Tausendstel Zoll", voice=VOICES["de"])
    assert len(spoken)
    assert not np.array_equal(spoken, rendered("acht Tausendstel Zoll"))
    # Duden, Aussprachewörterbuch, from memory: "acht" is [axt], with the sound that English has not.
    assert espeak().phonemes("acht", VOICES["de"]).endswith("'axt")
    assert on_a_silent_device("de").name == "bundled espeak-ng, de"


@dataclass
class SystemVoice:
    """A voice as the drivers of pyttsx3 tell of one: languages by espeak and nsss, ids alone by sapi5."""

    id: str
    languages: tuple[str | bytes, ...] = ()


@pytest.mark.parametrize(
    ("voices", "chosen"),
    [
        ([SystemVoice("a", (b"\x05en-us",)), SystemVoice("b", (b"\x05de",))], "b"),
        ([SystemVoice("alex", ("en_US",)), SystemVoice("anna", ("de_DE",))], "anna"),
        ([SystemVoice("TTS_MS_EN-US_ZIRA_11.0"), SystemVoice("TTS_MS_DE-DE_HEDDA_11.0")], "TTS_MS_DE-DE_HEDDA_11.0"),
        ([SystemVoice("com.voice.en-GB.daniel"), SystemVoice("com.voice.de-DE.anna")], "com.voice.de-DE.anna"),
    ],
)
def test_a_voice_of_the_language_is_found_however_the_system_tells_it(voices: list[SystemVoice], chosen: str) -> None:
    assert voice_of("de", voices, "any") == chosen


@pytest.mark.parametrize(
    "voices", [[], [SystemVoice("video", ("en_US",))], [SystemVoice("model-de-luxe"), SystemVoice("den", ("da_DK", "nde"))]]
)
def test_a_system_without_a_voice_of_the_language_says_so(voices: list[SystemVoice]) -> None:
    with pytest.raises(NoVoiceError, match="has no voice for the language 'de'"):
        voice_of("de", voices, "sapi5")


def test_the_bundled_voice_speaks_german_where_the_system_has_no_german_one(monkeypatch: pytest.MonkeyPatch) -> None:
    # The dummy driver has English voices alone; the loudspeaker is opened by the bundled voice.
    monkeypatch.setitem(DRIVERS, sys.platform, "dummy")
    monkeypatch.setattr("assistant.mouth.bundled.Loudspeaker", lambda rate: Loudspeaker(rate, silent=True))
    assert open_voice("de").name == "bundled espeak-ng, de"
    assert open_voice().name == "pyttsx3, dummy"


def test_a_repeat_is_slower() -> None:
    assert len(rendered("six point five thousandths", True)) > 1.1 * len(rendered("six point five thousandths"))


def power(sound: NDArray[np.int16], low: float, high: float) -> float:
    """The power between two frequencies in hertz."""
    hertz = np.fft.rfftfreq(len(sound), 1 / espeak().rate)
    return float(np.sum(np.abs(np.fft.rfft(sound.astype(float)))[(hertz >= low) & (hertz < high)] ** 2))


def test_the_highs_are_lifted_by_six_decibels_over_the_lows() -> None:
    plain, shaped = espeak().speech("sixty six thousandths", words_a_minute=155), rendered("sixty six thousandths")
    lows, highs = (power(shaped, *band) / power(plain, *band) for band in ((0.0, 500.0), (3_000.0, 11_000.0)))
    assert 10 * np.log10(highs / lows) == pytest.approx(6.0, abs=0.5)


def test_what_is_played_comes_out_whole_and_stops_at_once() -> None:
    loudspeaker = Loudspeaker(22_050, silent=True)
    loudspeaker.play(np.arange(2_000, dtype=np.int16))
    assert loudspeaker.wait(PATIENCE)
    loudspeaker.play(np.zeros(22_050 * 60, np.int16))
    assert not loudspeaker.wait(0.0)
    loudspeaker.stop()
    assert loudspeaker.wait(0.0)
    assert not loudspeaker.is_lost
    loudspeaker.close()


def test_the_device_is_given_the_samples_in_order_and_then_silence() -> None:
    loudspeaker = Loudspeaker(22_050, silent=True)
    loudspeaker._device.stop()
    feed = loudspeaker._feed()
    next(feed)
    loudspeaker.play(np.arange(1, 6, dtype=np.int16))
    assert [np.frombuffer(feed.send(count), np.int16).tolist() for count in (3, 3, 2)] == [[1, 2, 3], [4, 5, 0], [0, 0]]
    assert loudspeaker.wait(0.0)
    loudspeaker.close()


@pytest.mark.parametrize("tone", Tone)
def test_every_tone_is_short_and_fades(tone: Tone) -> None:
    samples = notes(tone, 22_050)
    assert len(samples) < 0.3 * 22_050
    assert abs(int(samples[0])) < 100
    assert abs(int(samples[-1])) < 2_000
    assert np.abs(samples).max() > 10_000


def test_no_two_tones_sound_alike() -> None:
    assert len({notes(tone, 22_050).tobytes() for tone in Tone}) == len(Tone)
