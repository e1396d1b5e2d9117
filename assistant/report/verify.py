"""Whether a build sheet belongs to its journal: it is made anew from the journal and held against the file, byte for byte."""

from dataclasses import dataclass

import assistant
from assistant.journal.lines import as_it_was, record_of
from assistant.report.forms import form_of, made
from assistant.report.mark import Mark


@dataclass(frozen=True)
class Finding:
    """belongs: the file is, to the byte, what its journal gives; text: one line for people."""

    belongs: bool
    text: str


def verify(file: bytes, mark: Mark, journal: bytes) -> Finding:
    """Hold a sheet's bytes, which bear `mark`, against its job's journal.

    A sheet that was made while the job still went on belongs to it too: it is made anew from the journal as it stood then.
    Raises JournalError when the journal is damaged.
    """
    then = as_it_was(journal, mark.sha256)
    if then is None:
        return Finding(False, f"not of this journal: job {mark.job_id} never had the hash {mark.sha256}")
    record = record_of(then, mark.job_id)
    if made(record, form_of(file), mark.paper, mark.language) == file:
        later = len(record_of(journal, mark.job_id).lines) - len(record.lines)
        since = f"; the job has gone on since, by {later} entries" if later else ""
        return Finding(True, f"belongs to job {mark.job_id}: every character is as its journal gives it{since}")
    if mark.version != assistant.__version__:
        return Finding(
            False,
            f"cannot be told: the hash is that of job {mark.job_id}, but the sheet was made by version {mark.version} and this is "
            f"{assistant.__version__}; make a fresh sheet and compare the two",
        )
    return Finding(
        False,
        f"changed: the hash is that of job {mark.job_id}, but the file is not what its journal gives; make a fresh sheet and compare the two",
    )
