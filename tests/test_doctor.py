"""The doctor: what it says of each part, without devices and with made-up ones."""

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.bench import new_bench
from assistant.core.errors import BadInputError
from assistant.core.inputs import Said
from assistant.doctor import SENTENCE, Finding, gauges_here, loudspeaker, microphone, recogniser, refit, store
from assistant.ears.devices import NoDeviceError
from assistant.journal.lines import LinesJournal
from tests.conftest import job_with
from tests.ears.speaking import hiss, said, silence


def pcm(sound: NDArray[np.float64]) -> NDArray[np.int16]:
    return np.rint(np.clip(sound, -1.0, 1.0) * 32767).astype(np.int16)


def giving(sound: NDArray[np.float64]) -> Callable[[float, str | None], NDArray[np.int16]]:
    return lambda _seconds, _name: pcm(sound)


def of(findings: list[Finding]) -> list[tuple[bool, str, str]]:
    """Without what is plugged in where the test runs."""
    return [(one.works, one.text, one.remedy) for one in findings if not one.text.startswith("there is:")]


def test_the_recogniser_is_told_by_its_checksum_and_tried_on_a_sentence() -> None:
    net, tried = recogniser()
    assert "91286d677bd63acb4bab4a812724d34073048252d47ccfaebcaa0b4eba9665cc" in net.text
    assert tried.works
    assert tried.text.startswith(f"hears {SENTENCE!r} in ")


def test_a_vosk_folder_that_is_none_is_told_with_its_path(tmp_path: Path) -> None:
    found = list(recogniser(tmp_path / "model"))[-1]
    assert not found.works
    assert f"{tmp_path / 'model'} is not a folder" in found.text
    assert found.remedy


def test_a_good_microphone_is_heard_and_its_level_told() -> None:
    told: list[str] = []
    level, heard = of(list(microphone(giving(said(SENTENCE)), None, told.append)))
    assert told == [f"Say, after a moment: {SENTENCE}"]
    assert level[0]
    assert "loudest -6 dB" in level[1]
    assert heard == (True, f"heard {SENTENCE!r}", "")


def test_without_a_microphone_it_says_so_and_how_to_go_on() -> None:
    def none(_seconds: float, _name: str | None) -> NDArray[np.int16]:
        raise NoDeviceError("no microphone: this computer has no sound system")

    (found,) = of(list(microphone(none, None, lambda _: None)))
    assert not found[0]
    assert "--ears typed" in found[2]


@pytest.mark.parametrize(
    ("sound", "remedy"),
    [
        (silence(3.0), "it sends nothing at all: unmute it"),
        (hiss(3.0, 0.001), "no speech in it"),
        (said(SENTENCE) * 6.0, "it clips: turn it down"),
        (said(SENTENCE) * 0.008, "it is very quiet"),
        (np.concatenate([hiss(0.5, 0.09), said(SENTENCE) + hiss(len(said(SENTENCE)) / 16_000, 0.09)]), "over the noise"),
    ],
    ids=["muted", "nobody", "clipping", "quiet", "noise"],
)
def test_what_is_wrong_with_a_microphone_comes_with_what_to_change(sound: NDArray[np.float64], remedy: str) -> None:
    level = of(list(microphone(giving(sound), None, lambda _: None)))[0]
    assert not level[0]
    assert remedy in level[2]


def test_a_telephone_band_is_noticed() -> None:
    speech = said(SENTENCE)
    spectrum = np.fft.rfft(speech)
    spectrum[np.fft.rfftfreq(len(speech), 1 / 16_000) > 3_600] = 0.0
    narrow = np.fft.irfft(spectrum, len(speech)) + np.random.default_rng(3).normal(0.0, 1e-5, len(speech))
    assert "telephone band" in of(list(microphone(giving(narrow), None, lambda _: None)))[0][2]


def test_another_sentence_than_the_one_that_was_asked_for_is_told() -> None:
    heard = of(list(microphone(giving(said("nine thou")), None, lambda _: None)))[-1]
    assert not heard[0]
    assert "'nine thou'" in heard[1]


def test_a_loudspeaker_plays_its_notes_to_the_end() -> None:
    assert of(list(loudspeaker(None, silent=True))) == [(True, "three notes downward were played: did you hear them?", "")]


def test_a_loudspeaker_that_is_not_there_leaves_captions() -> None:
    found = list(loudspeaker("no such loudspeaker"))[-1]
    assert not found.works
    assert "--mouth captions" in found.remedy


def test_damaged_settings_of_gauges_are_told_and_the_ports_all_the_same(tmp_path: Path) -> None:
    path = tmp_path / "settings.toml"
    path.write_text("gauge = [", encoding="utf-8")
    found = list(gauges_here(path))
    assert len(found) >= 2  # the ports, or that there is none; and the file
    assert not found[-1].works
    assert str(path) in found[-1].text


def a_job(folder: Path, *said_words: Said) -> None:
    journal = LinesJournal(folder, "job", new=True)
    bench, _ = new_bench(job_with(), journal, lambda: "0")
    for words in ("done", "still together"):
        bench.give(Said(words))
    for one in said_words:
        bench.give(one)
    journal.close()


def test_a_store_is_told_with_its_jobs(tmp_path: Path) -> None:
    a_job(tmp_path)
    writable, jobs = store(tmp_path)
    assert writable.works
    assert jobs == Finding("store", True, "1 job, all readable")


def test_a_store_that_is_not_there_yet_is_no_fault_and_is_not_made(tmp_path: Path) -> None:
    (found,) = store(tmp_path / "a" / "b")
    assert found.works
    assert not (tmp_path / "a").exists()


def test_a_file_in_the_store_s_place_is_a_fault(tmp_path: Path) -> None:
    (tmp_path / "store").write_text("", encoding="utf-8")
    (found,) = store(tmp_path / "store")
    assert not found.works
    assert "--store" in found.remedy


def test_a_damaged_job_is_named(tmp_path: Path) -> None:
    a_job(tmp_path)
    lines = (tmp_path / "job.jsonl").read_text(encoding="utf-8").splitlines(keepends=True)
    (tmp_path / "job.jsonl").write_text("".join(["nonsense\n", *lines[1:]]), encoding="utf-8")
    found = list(store(tmp_path))[-1]
    assert not found.works
    assert "job.jsonl is damaged" in found.text


def test_the_bars_are_fitted_over_all_jobs_of_the_store_for_the_ear_used_last(tmp_path: Path) -> None:
    a_job(tmp_path, *[one for _ in range(60) for one in (Said("12 thou", "spoken", 0.98, -0.05, ear="net 1"), Said("undo"))][:-1])
    with pytest.raises(BadInputError, match="expected at least 100"):
        refit(tmp_path)
    (tmp_path / "job.jsonl").unlink()
    answers = [one for _ in range(120) for one in (Said("twelve thou", "spoken", 0.98, -0.05, ear="net 1"), Said("yes"), Said("undo"))]
    a_job(tmp_path, *answers)
    ear, fitted = refit(tmp_path)
    assert (ear, fitted.cases, fitted.wrong, fitted.again) == ("net 1", 120, 0, 0)
    assert (fitted.bars.posterior, fitted.bars.fit) == (0.98, -0.10)


def test_no_sound_is_left_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    list(microphone(giving(said(SENTENCE)), None, lambda _: None))
    assert list(tmp_path.iterdir()) == []


def test_findings_are_plain_json() -> None:
    assert json.loads(json.dumps(vars(Finding("store", True, "x")))) == {"part": "store", "works": True, "text": "x", "remedy": ""}


def test_a_full_disk_is_told_before_it_stops_a_job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    usage = shutil.disk_usage(tmp_path)._replace(free=1_000_000)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage)
    (found,) = store(tmp_path)
    assert not found.works
    assert "make room" in found.remedy
