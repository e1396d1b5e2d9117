"""The option `--gauge`: what hangs on which port, from the command line and the settings file."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from assistant.core.errors import BadInputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from assistant.live_gauges import Part

Gauges = Annotated[
    list[str] | None,
    typer.Option(
        "--gauge", metavar="NAME=PORT…",
        help="A gauge that was met, by its NAME; or NAME=PORT,KEY[,UNIT] such as dial=/dev/ttyUSB0,ascii-signed-cr,mm; or a pedal,"
        " pedal=/dev/ttyUSB1,cts. Once for each.",
    ),
]  # fmt: skip
Settings = Annotated[
    Path | None, typer.Option("--settings", metavar="FILE", help="The settings file with the gauges that were met; default: the user's.")
]


def parts_from(texts: "Sequence[str] | None", settings: Path | None) -> "tuple[Part, ...]":
    """The gauges and pedals of the option, each once. Raises BadInputError that says which is wrong."""
    if not texts:
        return ()
    from gauges.errors import SettingError
    from gauges.known import known_gauges, settings_file
    from gauges.settings import bench_part_from

    try:
        known = known_gauges(settings_file(settings))
        return tuple(bench_part_from(text, known) for text in texts)
    except SettingError as error:
        raise BadInputError(f"--gauge: {error}") from error
