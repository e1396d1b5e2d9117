"""Live listening: the stream's ear with a clock of its own, and the real device loop on a silent device."""

import queue

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.ears import RATE
from assistant.ears.devices import NoDeviceError, device_names
from assistant.ears.microphone import Fault, Listener, Microphone, MicrophoneEvent, MicrophoneTrouble, TalkedOver, Utterance
from assistant.ears.net import NetEar
from tests.ears.speaking import hiss, said, silence

BEFORE = 3.0
"""Seconds of quiet room before the speech."""


def pcm(sound: NDArray[np.float64]) -> NDArray[np.int16]:
    return np.rint(np.clip(sound, -1.0, 1.0) * 32767).astype(np.int16)


def room(seconds: float) -> NDArray[np.float64]:
    return hiss(seconds, 0.0005)


def heard(
    sound: NDArray[np.float64], step: int = 700, speaks: tuple[float, float] = (0.0, 0.0), start: float = 100.0
) -> list[MicrophoneEvent]:
    """All events of a stream that begins at `start` on the clock; the mouth speaks between two times of the stream."""
    listener, samples, events = Listener(), pcm(sound), list[MicrophoneEvent]()
    for at in range(0, len(samples), step):
        part = samples[at : at + step]
        now = (at + len(part)) / RATE
        events += listener.feed(part, start + now, speaks[0] <= now < speaks[1])
    return events


def utterances(events: list[MicrophoneEvent]) -> list[Utterance]:
    return [event for event in events if isinstance(event, Utterance)]


@pytest.mark.parametrize("step", [33, 160, 512, 5_000])
def test_an_utterance_is_cut_out_whole_in_any_chunks(step: int) -> None:
    speech = said("six point five thou")
    sound = np.concatenate([room(BEFORE), speech, room(1.0)])
    found = utterances(heard(sound, step))
    assert len(found) == 1
    # The clip itself begins with half a second of quiet.
    assert found[0].began == pytest.approx(100.0 + BEFORE + 0.5, abs=0.12)
    assert len(found[0].sound) / RATE == pytest.approx(found[0].ended - found[0].began + 0.24 + 0.54, abs=0.01)
    assert not found[0].over_own_voice
    assert not found[0].is_clipped


@pytest.mark.parametrize("loudness", [0.02, 0.3, 1.0])
def test_what_is_cut_out_of_the_stream_is_understood_as_the_clip_is(loudness: float) -> None:
    ear = NetEar()
    grammar = ear.load([("six point five thou", 65), ("nine point five thou", 95)])
    found = utterances(heard(np.concatenate([room(BEFORE), said("six point five thou") * loudness, room(1.0)])))
    assert len(found) == 1
    chosen = ear.hear(found[0].sound, grammar).chosen
    assert chosen is not None
    assert chosen.meaning == 65


@pytest.mark.parametrize("step", [33, 512, 3_000])
def test_an_utterance_is_foreseen_before_its_pause_is_over_with_the_very_same_sound(step: int) -> None:
    listener, samples = Listener(), pcm(np.concatenate([room(BEFORE), said("six point five thou"), room(1.0)]))
    foreseen: list[tuple[int, Utterance]] = []
    ended: list[tuple[int, Utterance]] = []
    for at in range(0, len(samples), step):
        part = samples[at : at + step]
        ended += [(at, event) for event in listener.feed(part, (at + len(part)) / RATE) if isinstance(event, Utterance)]
        early = listener.foreseen()
        foreseen += [] if early is None else [(at, early)]
    (began, first), (over, last) = *foreseen, *ended
    assert np.array_equal(first.sound, last.sound)
    assert first.ended == pytest.approx(last.ended)
    # 0.24 s of margin against 0.45 s of pause, in blocks of 32 ms.
    assert (over - began) / RATE == pytest.approx(0.22, abs=0.04 + step / RATE)


def test_who_speaks_on_is_foreseen_again_with_all_of_it() -> None:
    """A pause of about 0.35 s: longer than the margin, too short to end what is said."""
    one, two = said("six point five")[: -RATE // 4], said("thou")[RATE // 2 :]
    listener, samples = Listener(), pcm(np.concatenate([room(BEFORE), one, two, room(1.0)]))
    foreseen: list[Utterance] = []
    ended: list[Utterance] = []
    for at in range(0, len(samples), 512):
        ended += utterances(listener.feed(samples[at : at + 512], at / RATE))
        early = listener.foreseen()
        foreseen += [] if early is None else [early]
    assert len(ended) == 1
    assert len(foreseen) == 2
    assert len(foreseen[0].sound) < len(foreseen[1].sound)
    assert np.array_equal(foreseen[1].sound, ended[0].sound)


def test_two_utterances_are_two() -> None:
    assert len(utterances(heard(np.concatenate([room(1.0), said("undo"), room(0.5), said("six thou"), room(1.0)])))) == 2


def test_noise_and_quiet_are_no_utterance() -> None:
    assert heard(np.concatenate([room(2.0), hiss(2.0, 0.1), room(2.0)])) == []


def test_speech_over_the_own_voice_and_just_after_it_is_marked() -> None:
    sound = np.concatenate([room(BEFORE), said("six thou"), room(1.0)])
    began = BEFORE + 0.5
    for mouth_ends, expected in ((began + 0.1, True), (began - 0.1, True), (began - 0.6, False)):
        (found,) = utterances(heard(sound, speaks=(0.0, mouth_ends)))
        assert found.over_own_voice is expected, mouth_ends


def test_the_technician_talking_over_us_is_told_and_our_own_voice_is_not() -> None:
    own = np.concatenate([said("put the indicator on the next tooth") * 0.1 for _ in range(3)])
    over = own.copy()
    at = len(own) - RATE * 2
    louder = said("stop, stop, stop, stop")[RATE // 2 :]
    over[at : at + len(louder)] += louder[: len(over) - at]
    assert [event for event in heard(own, speaks=(0.0, 99.0)) if isinstance(event, TalkedOver)] == []
    told = [event for event in heard(over, speaks=(0.0, 99.0)) if isinstance(event, TalkedOver)]
    assert told
    # 0.2 s of it, and the time that the detector takes to be sure.
    assert told[0].at == pytest.approx(100.0 + at / RATE + 0.2, abs=0.2)


def test_an_overdriven_utterance_is_marked() -> None:
    (found,) = utterances(heard(np.concatenate([room(1.0), said("six thou") * 20, room(1.0)])))
    assert found.is_clipped


def test_a_room_that_never_pauses_is_handed_over_in_pieces() -> None:
    found = utterances(heard(np.concatenate([room(1.0), *[said("one two three four five six seven eight")[8_000:-8_000]] * 5, room(1.0)])))
    assert len(found) >= 2
    assert all(u.ended - u.began <= 8.1 for u in found)
    assert all(len(u.sound) <= 10 * RATE for u in found)


def test_a_muted_microphone_is_told_once_and_its_return_too() -> None:
    events = heard(np.concatenate([room(1.0), silence(3.0), room(1.0), silence(0.9), room(0.5)]))
    assert [(e.fault, e.is_over) for e in events if isinstance(e, MicrophoneTrouble)] == [(Fault.FLAT, False), (Fault.FLAT, True)]


def test_a_silent_device_is_listened_to_in_real_time() -> None:
    got: queue.SimpleQueue[MicrophoneEvent] = queue.SimpleQueue()
    microphone = Microphone(got.put, silent=True)
    event = got.get(timeout=10.0)
    microphone.close()
    assert isinstance(event, MicrophoneTrouble)
    assert event.fault is Fault.FLAT


def test_a_device_that_goes_is_told_and_opened_again_when_it_is_back() -> None:
    got: queue.SimpleQueue[MicrophoneEvent] = queue.SimpleQueue()
    microphone = Microphone(got.put, silent=True)
    microphone._device.stop()  # as when the plug is pulled: no more blocks come
    told = [event for _ in range(2) if isinstance(event := got.get(timeout=10.0), MicrophoneTrouble)]
    microphone.close()
    assert [(event.fault, event.is_over) for event in told] == [(Fault.LOST, False), (Fault.LOST, True)]
    assert "plug it in again" in told[0].text


def test_a_named_microphone_that_is_not_there_is_refused_and_no_other_taken() -> None:
    with pytest.raises(NoDeviceError, match="microphone 'the lapel one' is not plugged in; there is:"):
        Microphone(list[MicrophoneEvent]().append, "the lapel one")


def test_listing_devices_needs_none() -> None:
    assert all(isinstance(name, str) for name in device_names("microphone") + device_names("loudspeaker"))
