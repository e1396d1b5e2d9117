"""The pictures of the guide can be taken anew, each at its moment of the demo's job."""

from pathlib import Path

from PIL import Image

import assistant
from assistant.benchmarks.pictures import MOMENTS, take
from tests.browser.conftest import CHROMIUM


def test_every_picture_is_taken_anew_in_the_size_that_the_guide_has(tmp_path: Path) -> None:
    take(tmp_path, CHROMIUM)
    kept = Path(assistant.__file__).resolve().parent.parent / "docs" / "pictures"
    assert {path.name for path in tmp_path.iterdir()} == {path.name for path in kept.iterdir()} == {f"{one.name}.png" for one in MOMENTS}
    for moment in MOMENTS:
        with Image.open(tmp_path / f"{moment.name}.png") as anew, Image.open(kept / f"{moment.name}.png") as shown:
            assert anew.size == shown.size == moment.size
            colours = anew.convert("RGB").getcolors(10_000)
            assert colours is not None
            assert len(colours) > 8, "a blank page"
