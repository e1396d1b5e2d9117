"""Builds with a mistake: whether it matters is told by the same build without it, from the same state."""

import json
from collections import Counter
from dataclasses import asdict
from pathlib import Path

import pytest

from assistant.benchmarks.builds import OTHER, build_of, play
from assistant.benchmarks.faults import Caught, FaultWatch, Order, Spoilt, main, orders, row, spoil
from assistant.technician import Technician
from assistant.virtual_axle import MISTAKES, Build, Constants, Fault, VirtualAxle

FLANGE = "flange,spacer-shims,adjusters"


def spoilt(**known: object) -> Spoilt:
    caught = Caught("burr", "fit:pinion_shims", **{"shown": True, **known})  # type: ignore[arg-type]
    return Spoilt(FLANGE, 1, caught, "in spec", 60, 0)


def test_a_decimal_slip_matters_and_is_caught_before_the_next_move() -> None:
    caught = spoil(Order("decimal-slip", "read:pinion_depth", 1, FLANGE, 11), Constants()).caught
    assert caught.shows
    assert caught.in_time
    assert caught.how == "asked again"


@pytest.mark.parametrize("nth", [1, 2])
def test_a_technician_who_looks_at_nothing_still_comes_to_an_end(monkeypatch: pytest.MonkeyPatch, nth: int) -> None:
    """Half a millimetre missing behind the head cup: the drag is at its floor whatever goes in, until all of it is gone through."""
    monkeypatch.setattr(Technician, "_look_around", lambda *_: None)
    monkeypatch.setattr(Technician, "wrong_pack", lambda *_: None)
    build = Build("head-cup", "spacer-shims", "side-shims", units="mm")
    watch = FaultWatch(VirtualAxle(build, 102, [Fault("shim-left-out", "fit:pinion_shims", nth)]))
    played = play(watch.axle, watch=watch)
    assert played.trouble == ""
    assert played.verdict == "in spec"
    assert played.untrue == ()


def test_a_mistake_that_never_came_up_is_not_counted() -> None:
    never = spoil(Order("decimal-slip", "read:pinion_depth", 40, FLANGE, 11), Constants())
    assert not never.caught.shown
    assert row([never])["made"] == 0
    assert never.verdict == "in spec"


def test_a_verdict_or_a_move_that_the_right_reading_would_not_have_brought_makes_it_matter() -> None:
    """A shim too many under the flange (lay +1: the pinion stands out by a whole shim, .003 in at least): no depth within .002 in stays so."""
    caught = spoil(Order("shim-doubled", "fit:pinion_shims", 1, FLANGE, 1000), Constants()).caught
    assert caught.verdict or caught.move
    assert caught.matters


def test_a_mistake_counts_as_caught_only_before_the_next_move() -> None:
    found = row([
        spoilt(shift=5.0, how="an alarm", alarmed=True, named=2), spoilt(shift=4.0, how="an alarm", moved_on=True),
        spoilt(shift=1.0), spoilt(shift=1.0, verdict=True), spoilt(shift=1.0, move=True, how="read again"),
    ])  # fmt: skip
    assert (found["made"], found["over 3 spreads"], found["matter"]) == (5, 2, 4)
    assert found["caught of those"] == 0.5
    assert found["caught"] == 0.5
    assert found["other verdict, caught"] == 0.0
    assert found["cause in three"] == 1.0


def test_each_mistake_is_made_as_often_at_each_of_its_occasions_on_layouts_where_it_can_happen() -> None:
    made = list(orders(24, 1000))
    assert Counter(order.name for order in made) == dict.fromkeys(MISTAKES, 24)
    counts = Counter((order.name, order.at) for order in made)
    for name in MISTAKES:
        of_this = [many for (each, _), many in counts.items() if each == name]
        assert max(of_this) - min(of_this) <= 1, name
    for name, at in counts:
        units = {build_of(order.layout, order.seed).units for order in made if (order.name, order.at) == (name, at)}
        assert units == {"in", "mm"}, (name, at)
    assert all("spacer-shims" in order.layout for order in made if order.at == "torque:nut")
    assert len({order.layout for order in made}) == 18


def test_what_a_file_holds_is_not_played_again(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    kept = tmp_path / "part.jsonl"
    arguments = ["--builds", "1", "--mistakes", "dial-wrapped", "--seed", "1003", "--to", str(kept)]
    assert main(arguments) == 0
    table = capsys.readouterr().out
    assert "| dial-wrapped | 1 |" in table
    (line,) = kept.read_text(encoding="utf-8").splitlines()
    assert asdict(Spoilt.read(line)) == json.loads(line)
    kept.write_text(line.replace('"how": "asked again"', '"how": "read again"') + "\n", encoding="utf-8")
    assert main(arguments) == 0
    assert capsys.readouterr().out != table, "the file's own words, not another build"


def test_a_share_is_disjoint_from_the_others(tmp_path: Path) -> None:
    files = [tmp_path / f"{share}.jsonl" for share in (1, 2)]
    for share, file in enumerate(files, start=1):
        main(["--builds", "2", "--mistakes", "dial-wrapped", "--seed", "1003", "--share", f"{share}/2", "--to", str(file)])
    seeds = [json.loads(line)["seed"] for file in files for line in file.read_text(encoding="utf-8").splitlines()]
    assert sorted(seeds) == [1003, 1004]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--layouts", "flange"], "layout 'flange': expected one of flange,spacer-shims,adjusters"),
        (["--mistakes", "bur"], "mistake 'bur': expected one of not-seated"),
        (["--share", "3/2"], "share '3/2': expected K/N"),
    ],
)
def test_bad_words_are_refused(arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(arguments)
    assert stopped.value.code == 2
    assert words in capsys.readouterr().err


def test_the_axles_of_the_figures_are_others_than_those_of_the_thresholds() -> None:
    assert OTHER.noise != Constants().noise
    assert OTHER.burr_thou != Constants().burr_thou
