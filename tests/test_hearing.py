"""The ear of a job: what is decoded before the closing pause is over, and when that counts. Our own ear; clips by the bundled espeak."""

from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from assistant.bench import Bench
from assistant.benchmarks.voices import is_here, spoken
from assistant.core.belief.normal import Normal
from assistant.core.inputs import Said
from assistant.core.quantities import Quantity
from assistant.core.words import Command, Value
from assistant.ears import RATE, READ_BACK
from assistant.ears.microphone import Listener, Utterance
from assistant.ears.net import NetEar
from assistant.ears.prior import FLOOR
from assistant.hearing import Hearing, prior_for
from assistant.live import Loop
from tests.conftest import job_with
from tests.ears.speaking import hiss, said
from tests.table import Table


class CountingEar(NetEar):
    """Our own ear, and how often it was asked."""

    times = 0

    def hear(self, *given: Any, **named: Any) -> Any:
        self.times += 1
        return super().hear(*given, **named)


@pytest.fixture
def hearing() -> Iterator[Hearing]:
    made = Hearing(CountingEar())
    yield made
    made.close()


def times(hearing: Hearing) -> int:
    assert isinstance(hearing.ear, CountingEar)
    return hearing.ear.times


def test_what_was_decoded_ahead_is_the_answer_and_is_not_decoded_again(hearing: Hearing, bench: Bench) -> None:
    clip = said("twelve thou")
    plain = hearing.hear(clip, bench.state)
    last = hearing.last
    hearing.begin(clip, bench.state)
    assert hearing.hear(clip.copy(), bench.state) == plain
    assert isinstance(plain, Said)
    assert plain.words == "twelve thou"
    assert hearing.last is not last  # the log of an utterance is that of its own decoding
    assert times(hearing) == 2


@pytest.mark.parametrize("changed", ["sound", "state", "over our own voice", "asleep"])
def test_where_anything_has_changed_since_the_early_result_is_dropped(hearing: Hearing, bench: Bench, changed: str) -> None:
    clip, state = said("twelve thou"), bench.state
    hearing.begin(clip[: -RATE // 4] if changed == "sound" else clip, state)
    assert hearing._early is not None
    hearing._early.found.result()
    if changed == "state":
        bench.give(Said("why"))
    meant = hearing.hear(clip, bench.state, only_interrupts=changed == "over our own voice", asleep=changed == "asleep")
    assert isinstance(meant, Said) is (changed in ("sound", "state"))
    assert times(hearing) == 2
    assert hearing.hear(clip, bench.state) == hearing.hear(clip, bench.state)
    assert times(hearing) == 4  # an early result serves once


def test_a_stream_is_answered_from_what_was_decoded_during_its_closing_pause(hearing: Hearing, bench: Bench) -> None:
    """In the blocks of a device, with a clock of the stream: nothing sleeps."""
    said_aloud: list[str] = []
    loop = Loop(bench, (), lambda effect: said_aloud.append(effect.kind), hearing=hearing)
    room = hiss(2.0, 0.0005)
    stream = np.rint(np.concatenate([room, said("twelve thou"), room]) * 32767).astype(np.int16)
    listener = Listener()
    for at in range(0, len(stream), 512):
        events = listener.feed(stream[at : at + 512], at / RATE)
        foreseen = listener.foreseen()
        if foreseen is not None:
            assert events == []
            loop.foreseen(foreseen)
        for event in events:
            assert isinstance(event, Utterance)
            loop._take(event, event.ended)
    assert bench.state.offered is not None
    assert str(bench.state.offered.value) == "0.012 in"
    assert times(hearing) == 1


def test_what_is_expected_orders_but_rules_nothing_out(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    assert prior_for(bench.state) is None  # of the very first reading nothing is known
    monkeypatch.setattr("assistant.core.predictions.law", lambda *_: Normal(304.8, 25.4))  # micrometres: .0120 and .0010 in
    likely = prior_for(bench.state)
    assert likely is not None
    near, far = (likely(Value(Quantity.of(size, "in"), "", "")) for size in ("0.0120", "0.0300"))
    # Twenty times at most: an accepted reading outweighs that by far, and so is never what was expected in place of what was said.
    assert 0.9 < near <= 1.0
    assert far == pytest.approx(FLOOR, abs=0.001)
    assert far < likely(Command("undo")) < near
    assert near / far < READ_BACK.posterior / (1 - READ_BACK.posterior)


@pytest.mark.parametrize(("voice", "words"), [("flite:awb", "zero"), ("espeak:en-029", "zero"), ("espeak:en-us+Andy", "zero thou")])
def test_no_backlash_at_all_can_be_said_and_opens_a_jammed_mesh(hearing: Hearing, voice: str, words: str) -> None:
    """Voices that no training has heard; spoken twice, as the jammed mesh asks. Nothing of it is recorded."""
    if not is_here(voice):
        voice = "espeak:en-gb-x-rp"
    table = Table(job_with()).until("backlash.measure")
    quiet = hiss(0.5, 0.0005)
    clip = np.concatenate([quiet, spoken(voice, words), quiet])
    first, second = (table.give(hearing.hear(clip, table.state)) for _ in range(2))
    assert "the gears may be jammed" in first[0]["error"]["text"]
    assert [line["move"]["part"] for line in second if "move" in line] == ["ring_side_adjuster", "opposite_adjuster"]
    assert table.standing("backlash") == []
