"""The demo, whole, as a new user runs it: real recogniser, real decoders, the installed command."""

import tomllib
import wave
from pathlib import Path

import pytest

from assistant.demo import recordings, run, script


@pytest.fixture(scope="module")
def lines() -> list[str]:
    told: list[str] = []
    assert run(quick=True, aloud=False, write=told.append) == 0
    return told


def test_the_demo_takes_a_whole_job_to_an_axle_in_spec(lines: list[str]) -> None:
    text = "\n".join(lines)
    assert "VERDICT: in spec" in text
    for phase in ("Press the tail bearing", "Pinion depth", "Backlash round the ring", "Drive side pattern", "Final total drag"):
        assert f"== {phase}" in text


def test_it_shows_a_shim_change_that_changes_nothing_being_caught(lines: list[str]) -> None:
    assert any("This does not add up: pinion drag" in line for line in lines)
    assert any("found: spacer not seated" in line for line in lines)


def test_it_shows_a_misheard_number_being_corrected_at_the_read_back(lines: list[str]) -> None:
    at = next(index for index, line in enumerate(lines) if "misheard.wav" in line)
    heard = lines[at].split('"')[1]
    after = lines[at : at + 12]
    assert any("Dropped" in line for line in after)
    assert not any("disk" in line for line in after[: next(i for i, line in enumerate(after) if "Dropped" in line)])
    clips = {clip["file"]: clip["text"] for clip in tomllib.loads((recordings() / "clips.toml").read_text())["clip"]}
    said = next(text for file, text in clips.items() if "misheard" in file)
    assert heard != said


def test_damaged_frames_never_become_a_number(lines: list[str]) -> None:
    assert any("damaged or half frames refused" in line and not line.startswith("0 ") for line in lines)


def test_the_script_tells_nothing_of_what_is_meant() -> None:
    for line in script(recordings()):
        assert set(line) <= {"note", "hear", "gauge"}
        assert set(line.get("gauge", {})) <= {"capture", "format", "channel", "unit"}


def test_every_clip_is_listed_with_its_voice_and_is_plain_pcm() -> None:
    folder = recordings()
    listed = {clip["file"]: clip for clip in tomllib.loads((folder / "clips.toml").read_text())["clip"]}
    assert set(listed) == {path.name for path in (folder / "clips").iterdir()}
    assert len({clip["voice"] for clip in listed.values()}) >= 3
    assert any(clip.get("noise") for clip in listed.values())
    for name in listed:
        with wave.open(str(Path(folder) / "clips" / name)) as clip:
            assert (clip.getframerate(), clip.getnchannels(), clip.getsampwidth()) == (16000, 1, 2)
