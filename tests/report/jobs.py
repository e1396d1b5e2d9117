"""Jobs of the virtual axle, played once and kept: what a sheet is made of."""

from dataclasses import dataclass
from pathlib import Path

from assistant.journal.lines import read_record
from assistant.report import Sheet, sheet
from assistant.report.forms import made
from assistant.virtual_axle import Build, Fault, VirtualAxle
from tests.driver import Record, play
from tests.engine import InProcess


@dataclass(frozen=True)
class Played:
    """A job that was played: where it lies, and what the player saw of it through the headless contract. language: of its sheet."""

    folder: Path
    job_id: str
    record: Record
    language: str = "en"

    def sheet(self) -> Sheet:
        """Its sheet."""
        kept = read_record(self.folder, self.job_id)
        return sheet(kept.lines, kept.sha256, self.language)

    def made(self, form: str) -> bytes:
        """Its sheet in a form, as the command makes it."""
        return made(read_record(self.folder, self.job_id), form, language=self.language)


def played(folder: Path, job_id: str, build: Build | None = None, seed: int = 6, faults: tuple[str, ...] = ()) -> Played:
    """Play one whole job."""
    axle = VirtualAxle(build or Build(), seed, [Fault.parse(text) for text in faults])
    with InProcess(axle.job_toml(), folder, job_id) as engine:
        return Played(folder, job_id, play(engine.send, engine.first, axle))
