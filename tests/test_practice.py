"""Practice on a virtual axle: a learner plays a whole job, and is told in the end what went wrong."""

from collections.abc import Callable
from pathlib import Path
from typing import ClassVar

import pytest

from assistant.bench import new_bench
from assistant.core.errors import BadInputError
from assistant.files import phrases_for, read_job
from assistant.journal.lines import LinesJournal
from assistant.practice import Outcome, Practice, build_named, can_happen, faults_named, told
from assistant.virtual_axle import MISTAKES, Build, Fault, VirtualAxle


class Learner:
    """Presses enter, and gives a word where one is wanted; `wiser` may answer first, from the last line shown."""

    one_of, wants = "[bench] One of: ", "[bench] This wants a word of yours: "
    hinted: ClassVar = {"understood": "understood", "yes or no": "yes"}

    def __init__(self, wiser: Callable[[str], str | None] = lambda _: None) -> None:
        self.shown: list[str] = []
        self.choices = ""
        self.wiser = wiser

    def write(self, line: str) -> None:
        self.shown.append(line)
        if line.startswith(self.one_of):
            self.choices = line.removeprefix(self.one_of).removesuffix(".")

    def read(self) -> str | None:
        assert len(self.shown) < 4000, self.shown[-5:]
        last = self.shown[-1]
        answer = self.wiser(last)
        if answer is not None:
            return answer
        if last.startswith(self.wants):
            return self.hinted.get(last.removeprefix(self.wants).removesuffix("."), self.choices.split(", ")[0])
        return ""


def practised(build: Build, seed: int, folder: Path, learner: Learner | None, *faults: Fault) -> Outcome:
    axle = VirtualAxle(build, seed, faults)
    path = folder / "job.toml"
    path.write_text(axle.job_toml(), encoding="utf-8")
    journal = LinesJournal(folder, "practice", new=True)
    try:
        bench, first = new_bench(read_job(path), journal, lambda: "0")
        practice = Practice(bench, axle, (learner or Learner()).write, learner.read if learner is not None else None)
        return practice.run(first)
    finally:
        journal.close()


@pytest.mark.parametrize("build", [Build(), Build("head-cup", "crush-sleeve", "side-shims", "mm")])
def test_a_learner_who_does_as_told_ends_in_spec(build: Build, tmp_path: Path) -> None:
    outcome = practised(build, 3, tmp_path, Learner())
    assert outcome.verdict == "in spec"
    assert outcome.happened == []


def test_the_bench_can_play_alone(tmp_path: Path) -> None:
    outcome = practised(Build(), 3, tmp_path, None, Fault("decimal-slip", "read:pinion_depth"))
    assert outcome.verdict == "in spec"
    assert [(each.name, each.outcome, each.how) for each in outcome.happened] == [("decimal-slip", "noticed", "asked again")]


def test_a_learner_who_looks_again_sees_the_slip_before_it_is_said(tmp_path: Path) -> None:
    def doubtful(last: str) -> str | None:
        # The mounting distance is some three inches: what is read as a tenth or as ten times that cannot be.
        return "!look" if last.startswith(("[bench] You read 0.3", "[bench] You read 0.2")) else None

    learner = Learner(doubtful)
    outcome = practised(Build(), 3, tmp_path, learner, Fault("decimal-slip", "read:pinion_depth"))
    assert outcome.happened[0].how == "you looked again"
    assert any("the point was one place off" in line for line in learner.shown)


def test_a_look_over_finds_what_the_hands_did_wrong(tmp_path: Path) -> None:
    asked: list[str] = []

    def careful(last: str) -> str | None:
        if "What did the torque wrench reach at the caps?" in last or (last.startswith("[bench] You read 75") and not asked):
            asked.append(last)
            return "!check"
        return None

    learner = Learner(careful)
    outcome = practised(Build(), 3, tmp_path, learner, Fault("caps-loose", "torque:caps", 2))
    assert outcome.looked_over == len(asked) > 0
    found = any("the wrench turns a cap bolt" in line for line in learner.shown)
    assert found == (outcome.happened[0].how == "you looked it over")
    assert found


def test_a_word_unknown_to_the_bench_and_the_end_of_the_input_do_no_harm(tmp_path: Path) -> None:
    lines = iter(["!sing", "!look", "!check", "done"])
    learner = Learner(lambda _: next(lines, None))
    learner.read = lambda: next(lines, None)  # type: ignore[method-assign]  # an input that ends
    outcome = practised(Build(), 3, tmp_path, learner)
    assert outcome.verdict == "stopped"
    assert any("!sing is no word of the bench" in line for line in learner.shown)
    assert "[bench] You look everything over. All of it is as it should be." in learner.shown


def test_layouts_are_named_in_any_order_and_refused_in_one_line() -> None:
    assert build_named("side-shims,mm,head-cup") == Build("head-cup", "spacer-shims", "side-shims", "mm")
    assert build_named("") == Build()
    with pytest.raises(BadInputError, match=r"layout 'banana' is not known: expected flange \| head-cone"):
        build_named("banana")
    with pytest.raises(BadInputError, match="'mm' after 'in'"):
        build_named("in,mm")


def test_faults_are_named_drawn_or_refused() -> None:
    side = Build(carrier="side-shims")
    assert faults_named("none", side, 1) == []
    assert faults_named("burr", side, 1) == [Fault("burr", "fit:pinion_shims")]
    assert faults_named("wrong-side", side, 1) == [Fault("wrong-side", "fit:ring_side_shims")]
    assert faults_named("wrong-side", Build(), 1) == [Fault("wrong-side", "turn:ring_side_adjuster")]
    with pytest.raises(BadInputError, match="faults: no mistake is called 'gremlin'"):
        faults_named("gremlin", side, 1)
    with pytest.raises(BadInputError, match="cannot happen with flange, spacer-shims, adjusters"):
        faults_named("wrong-side@fit:ring_side_shims", Build(), 1)


@pytest.mark.parametrize("seed", range(12))
def test_drawn_faults_can_happen_on_the_axle_and_come_again_with_the_seed(seed: int) -> None:
    build = build_named(("", "crush-sleeve", "case-shims", "head-cone,mm")[seed % 4])
    drawn = faults_named("some", build, seed)
    assert len({fault.name for fault in drawn}) == 2
    assert all(can_happen(fault, build) and fault.name in MISTAKES for fault in drawn)
    assert drawn == faults_named("some", build, seed)


def test_the_end_says_what_gave_each_mistake_away(tmp_path: Path) -> None:
    outcome = practised(Build(), 3, tmp_path, None, Fault("decimal-slip", "read:pinion_depth"), Fault("one-place", "read:backlash", 900))
    lines = told(outcome, phrases_for())
    assert lines[0] == "The practice ended: in spec. It is not kept."
    assert lines[1].startswith("decimal-slip: ")
    assert "Noticed: asked again. The sign of it: ten times the prediction." in lines[1]
    assert lines[2] == "one-place: it never came up."
