"""A live job that listens: what the loop makes of utterances, of silence and of its own voice. Times are given, nothing sleeps."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from assistant.bench import new_bench
from assistant.core.effects import Effect
from assistant.core.inputs import Said, Unheard
from assistant.ears import Heard, Verdict
from assistant.ears.attention import ANSWER_WITHIN_SECONDS, ASLEEP_AFTER_SECONDS, Attention, Watch
from assistant.ears.microphone import Fault, MicrophoneTrouble, TalkedOver, Utterance
from assistant.journal.lines import LinesJournal
from assistant.live import Loop
from assistant.mouth import Tone
from tests.conftest import job_with

SAY = Utterance(np.zeros(16_000, np.int16), 1.0, 2.0, over_own_voice=False, is_clipped=False)
OVER = replace(SAY, over_own_voice=True)


@dataclass
class ToldHearing:
    """An ear that hears what the test says it does; it keeps how it was asked."""

    will_hear: Said | Unheard = field(default_factory=lambda: Unheard(for_us=False))
    snr_db: float | None = 30.0
    last: Heard | None = None
    asked: dict[str, bool] = field(default_factory=dict)

    def hear(self, sound: Any, state: Any, *, only_interrupts: bool = False, asleep: bool = False) -> Said | Unheard:  # noqa: ARG002
        self.asked = {"only_interrupts": only_interrupts, "asleep": asleep}
        verdict = Verdict.ACCEPT if isinstance(self.will_hear, Said) else Verdict.AGAIN if self.will_hear.for_us else Verdict.SILENT
        self.last = Heard(verdict, "told", speech_seconds=1.0, snr_db=self.snr_db)
        return self.will_hear


@dataclass
class NotedMouth:
    """A mouth that notes what it is asked to do, and speaks for as long as the test wants."""

    name: str = "noted"
    trouble: str = ""
    is_speaking: bool = False
    said: list[tuple[str, str, bool]] = field(default_factory=list)
    tones: list[Tone] = field(default_factory=list)
    hushes: int = 0

    def say(self, text: str, urgency: str = "info", slower: bool = False) -> None:
        self.said.append((text, urgency, slower))

    def tone(self, tone: Tone) -> None:
        self.tones.append(tone)

    def hush(self) -> bool:
        self.hushes += 1
        was, self.is_speaking = self.is_speaking, False
        return was

    def wait(self, seconds: float) -> bool:  # noqa: ARG002 - all is said
        return True

    def close(self) -> None:
        pass


class Job:
    """One job on a loop with both; `hear` gives it an utterance."""

    def __init__(self, folder: Path) -> None:
        self.journal = LinesJournal(folder, "job", new=True)
        bench, first = new_bench(job_with(), self.journal, lambda: "0")
        self.mouth, self.ear = NotedMouth(), ToldHearing()
        self.effects: list[Effect] = []
        self.loop = Loop(bench, (self.mouth,), self.effects.append, hearing=self.ear, watch=Watch(0.0))  # type: ignore[arg-type]
        self.loop.show(first)
        for words in ("done", "still together"):
            self.loop.show(bench.give(Said(words)))
        self.fresh()

    def fresh(self) -> None:
        self.mouth.said, self.mouth.tones, self.mouth.hushes = [], [], 0

    def hear(self, heard: str | Unheard, at: float = 1.0, spoken: Utterance = SAY) -> None:
        self.fresh()
        self.ear.will_hear = Said(heard, "spoken", 0.999, -0.01) if isinstance(heard, str) else heard
        self.loop._take(replace(spoken, began=at), at)

    @property
    def spoken(self) -> str:
        return " ".join(text for text, _, _ in self.mouth.said)


@pytest.fixture
def job(tmp_path: Path) -> Iterator[Job]:
    made = Job(tmp_path)
    yield made
    made.journal.close()


def test_a_question_ends_in_the_tone_that_says_speak_now(job: Job) -> None:
    job.hear("twelve thou")
    assert job.mouth.said[-1][1] == "ask"
    assert job.mouth.tones == [Tone.LISTENING]


def test_hold_and_resume_have_their_tones(job: Job) -> None:
    job.hear("hold")
    assert job.mouth.tones == [Tone.HELD]
    job.hear("resume")
    assert job.mouth.tones == [Tone.LISTENING]


def test_what_was_not_clear_has_its_tone_and_talk_has_none(job: Job) -> None:
    job.hear(Unheard(("six thou",), "unsure"))
    assert job.mouth.tones[0] is Tone.AGAIN
    job.hear(Unheard((), "talk", for_us=False))
    assert (job.mouth.tones, job.mouth.said, job.mouth.hushes) == ([], [], 0)


def test_on_hold_nothing_that_is_unclear_is_answered(job: Job) -> None:
    job.hear("hold")
    job.hear(Unheard(("resume",), "unsure"))
    assert (job.mouth.tones, job.mouth.said) == ([], [])


def test_ten_refused_utterances_within_a_minute_hold_the_job_and_are_said(job: Job) -> None:
    for number in range(9):
        job.hear(Unheard((), "talk", for_us=False), at=1.0 + number)
    assert not job.loop.bench.state.held
    job.hear(Unheard((), "talk", for_us=False), at=11.0)
    assert job.loop.bench.state.held
    assert "The room is talking" in job.spoken
    assert Tone.HELD in job.mouth.tones


def test_a_read_back_that_nobody_answers_is_said_once_more_then_held_and_never_recorded(job: Job) -> None:
    job.hear("twelve thou", at=1.0)
    job.fresh()
    at = 1.0 + ANSWER_WITHIN_SECONDS
    job.loop.look(at - 0.1)
    assert job.mouth.said == []
    job.loop.look(at)
    assert "?" in job.spoken
    job.fresh()
    job.loop.look(at + ANSWER_WITHIN_SECONDS)
    assert "No answer" in job.spoken
    assert job.loop.bench.state.held
    assert job.loop.bench.state.readings == ()


def test_while_the_mouth_speaks_or_somebody_does_no_silence_is_counted(job: Job) -> None:
    job.hear("twelve thou", at=1.0)
    job.fresh()
    job.mouth.is_speaking = True
    job.loop.look(20.0)
    job.mouth.is_speaking = False
    job.loop.somebody_speaks = lambda: True
    job.loop.look(40.0)
    assert job.mouth.said == []


def test_after_ten_quiet_minutes_only_what_wakes_is_heard(job: Job) -> None:
    job.loop.look(ASLEEP_AFTER_SECONDS)
    assert job.mouth.tones == [Tone.HELD]
    assert job.loop.watch.state(speaks=False, held=False) is Attention.ASLEEP
    job.hear(Unheard(("wake up",), "unsure"), at=601.0)
    assert job.ear.asked["asleep"]
    assert job.mouth.said == []
    job.hear("wake up", at=602.0)
    assert Tone.LISTENING in job.mouth.tones
    assert job.spoken
    job.hear("twelve thou", at=603.0)
    assert not job.ear.asked["asleep"]


def test_repeat_is_said_slower(job: Job) -> None:
    job.hear("twelve thou")
    job.hear("repeat")
    assert [slower for _, _, slower in job.mouth.said] == [True]
    job.hear("say again")
    assert [slower for _, _, slower in job.mouth.said] == [True]


def test_our_own_stop_is_not_taken_for_one(job: Job) -> None:
    job.loop.show([Effect("speak", "Stop. This does not add up: backlash.", "stop")])
    job.mouth.is_speaking = True
    job.hear("stop", spoken=OVER)
    assert job.ear.asked["only_interrupts"]
    assert job.mouth.hushes == 0


def test_a_stop_over_our_voice_silences_it(job: Job) -> None:
    job.loop.show([Effect("speak", "Turn the pinion steadily.", "ask")])
    job.mouth.is_speaking = True
    job.hear("stop", spoken=OVER)
    assert job.mouth.hushes == 1
    assert job.loop.bench.state.asked is None


def test_whoever_talks_over_us_is_heard_even_with_a_word_that_we_say_ourselves(job: Job) -> None:
    job.loop.show([Effect("speak", "Stop. This does not add up: backlash.", "stop")])
    job.mouth.is_speaking = True
    job.loop._take(TalkedOver(1.0), 1.0)
    job.hear("stop", spoken=OVER)
    assert job.mouth.hushes == 1


def test_what_was_cut_short_for_nothing_is_said_from_its_start(job: Job) -> None:
    job.loop.show([Effect("speak", "Turn the pinion steadily.", "ask")])
    job.loop._take(TalkedOver(1.0), 1.0)
    job.hear(Unheard((), "talk", for_us=False), spoken=OVER)
    assert job.spoken == "Turn the pinion steadily."
    job.hear(Unheard((), "talk", for_us=False), spoken=OVER)
    assert job.spoken == ""


@pytest.mark.parametrize(("more", "snr", "says"), [({"is_clipped": True}, 30.0, "too close"), ({}, 5.0, "too loud here")])
def test_what_is_wrong_with_the_sound_is_said_once(job: Job, more: dict[str, bool], snr: float, says: str) -> None:
    job.ear.snr_db = snr
    job.hear(Unheard(("six thou",), "unsure"), spoken=replace(SAY, **more))  # type: ignore[arg-type]
    assert says in job.spoken
    job.hear(Unheard(("six thou",), "unsure"), spoken=replace(SAY, **more))  # type: ignore[arg-type]
    assert says not in job.spoken


def test_a_lost_microphone_is_told_with_its_tone_and_so_is_its_return(job: Job) -> None:
    job.loop._take(MicrophoneTrouble(Fault.LOST, "the microphone is gone"), 1.0)
    job.loop._take(MicrophoneTrouble(Fault.LOST, "the microphone is back", is_over=True), 2.0)
    assert job.mouth.tones == [Tone.LOST, Tone.LISTENING]
    assert job.spoken == "The microphone is gone. The microphone is back."
