"""The time to the first sound of a reply: that it is measured through the whole chain. The clock runs; nothing waits for a block to be due."""

from pathlib import Path

import pytest

from assistant.benchmarks.replies import waits
from tests.conftest import JOB


@pytest.mark.parametrize("is_ahead", [False, True])
def test_every_reading_gets_its_first_sound(tmp_path: Path, is_ahead: bool) -> None:
    job = tmp_path / "job.toml"
    job.write_text(JOB, encoding="utf-8")
    found = waits(job, 2, 1, is_ahead=is_ahead, pause=lambda _: None)
    assert len(found) == 2
    # Fed faster than it is spoken, the speech ends later on the stream's clock than on ours.
    assert all(-10.0 < seconds < 10.0 for seconds in found)
