"""The pictures of the guide can be taken anew, each at its moment of the demo's job."""

import subprocess
import sys
from pathlib import Path

from PIL import Image

import assistant
from assistant.benchmarks.pictures import MOMENTS
from tests.browser.conftest import CHROMIUM


def test_every_picture_is_taken_anew_in_the_size_that_the_guide_has(tmp_path: Path) -> None:
    # A process of its own: the browser of the other tests holds this one's event loop.
    command = [sys.executable, "-m", "assistant.benchmarks.pictures", str(tmp_path), "--chromium", CHROMIUM]
    subprocess.run(command, check=True, timeout=300)
    kept = Path(assistant.__file__).resolve().parent.parent / "docs" / "pictures"
    assert {path.name for path in tmp_path.iterdir()} == {path.name for path in kept.iterdir()} == {f"{one.name}.png" for one in MOMENTS}
    for moment in MOMENTS:
        with Image.open(tmp_path / f"{moment.name}.png") as anew, Image.open(kept / f"{moment.name}.png") as shown:
            assert anew.size == shown.size == moment.size
            colours = anew.convert("RGB").getcolors(10_000)
            assert colours is not None
            assert len(colours) > 8, "a blank page"
