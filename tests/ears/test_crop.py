"""Where speech begins and ends, against clips whose speech was placed by hand."""

import numpy as np
import pytest

from assistant.ears import RATE
from assistant.ears.crop import BLOCK, Endpointer, Span, cropped, levelled, signal_to_noise_db, speech_in, utterances
from tests.ears.speaking import hiss, said, silence

SPEECH = said("six point five thou")[RATE // 2 : -RATE // 2]


def at(*seconds: float, length: float = 6.0) -> "np.ndarray[tuple[int], np.dtype[np.float64]]":
    """The same speech placed at each of `seconds`, in a quiet room."""
    clip = np.random.default_rng(5).normal(0.0, 0.0005, round(length * RATE))
    for second in seconds:
        start = round(second * RATE)
        clip[start : start + len(SPEECH)] += SPEECH
    return clip


@pytest.mark.parametrize("second", [0.0, 0.5, 1.37, 3.0])
@pytest.mark.parametrize("loudness", [0.05, 1.0])
def test_speech_is_found_where_it_was_put(second: float, loudness: float) -> None:
    span = speech_in(at(second) * loudness, Endpointer())
    assert span is not None
    # The start within 0.12 s was the detector's measured worst on clean clips; the margin of 0.24 s covers it.
    assert span.start / RATE == pytest.approx(second, abs=0.12)
    assert span.end / RATE == pytest.approx(second + len(SPEECH) / RATE, abs=0.24)


def test_a_pause_ends_an_utterance_and_a_gap_between_digits_does_not() -> None:
    length = len(SPEECH) / RATE
    assert len(list(utterances(at(0.5, 0.5 + length + 0.25), Endpointer()))) == 1
    assert len(list(utterances(at(0.5, 0.5 + length + 1.0), Endpointer()))) == 2


def test_a_clip_with_two_utterances_is_one_stretch_of_speech() -> None:
    span = speech_in(at(0.5, 3.5), Endpointer())
    assert span is not None
    assert span.start / RATE == pytest.approx(0.5, abs=0.12)
    assert span.end / RATE == pytest.approx(3.5 + len(SPEECH) / RATE, abs=0.24)


@pytest.mark.parametrize("seconds", [0.0, 0.01, 0.5, 7.0])
def test_nobody_speaks_in_silence_or_noise(seconds: float) -> None:
    assert speech_in(silence(seconds), Endpointer()) is None
    assert speech_in(hiss(seconds), Endpointer()) is None


def test_speech_that_the_clip_cuts_off_still_ends_with_it() -> None:
    clip = at(0.5)[: round(1.2 * RATE)]
    span = speech_in(clip, Endpointer())
    assert span is not None
    assert span.end == len(clip)


def test_a_second_clip_is_heard_as_if_it_were_the_first() -> None:
    endpointer = Endpointer()
    first = speech_in(at(0.5), endpointer)
    speech_in(hiss(3.0), endpointer)
    assert speech_in(at(0.5), endpointer) == first


def test_a_stream_tells_of_an_utterance_soon_after_its_end() -> None:
    blocks = levelled(at(0.5, length=4.096)).reshape(-1, BLOCK)
    endpointer = Endpointer()
    ended = [(number, span) for number, block in enumerate(blocks) if (span := endpointer.feed(block)) is not None]
    assert len(ended) == 1
    number, span = ended[0]
    assert ((number + 1) * BLOCK - span.end) / RATE == pytest.approx(0.45, abs=0.032)
    assert endpointer.start is None


def test_a_crop_keeps_a_margin_as_far_as_the_clip_has_one() -> None:
    clip = np.arange(float(RATE))
    assert cropped(clip, Span(8_000, 9_000))[[0, -1]].tolist() == [8_000 - 3_840, 9_000 + 3_839]
    assert cropped(clip, Span(1_000, 15_500))[[0, -1]].tolist() == [0, RATE - 1]


@pytest.mark.parametrize("decibels", [0.0, 10.0, 20.0, 30.0])
def test_signal_to_noise_is_that_of_the_parts(decibels: float) -> None:
    # Noise for speech, so that both powers are known: 10 log10 of their ratio.
    clip = hiss(2.0, 0.01)
    clip[RATE:] += hiss(2.0, 0.01 * 10 ** (decibels / 20))[:RATE]
    assert signal_to_noise_db(clip, Span(RATE, 2 * RATE)) == pytest.approx(decibels, abs=1.0)


def test_without_a_moment_before_the_speech_there_is_no_noise_to_measure() -> None:
    assert signal_to_noise_db(hiss(1.0), Span(1_000, 8_000)) is None
    assert signal_to_noise_db(silence(1.0), Span(8_000, 15_000)) is None
