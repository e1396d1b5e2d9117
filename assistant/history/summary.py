"""One job in a few words, taken from its journal's bytes without replaying it: what a list shows and a search looks through."""

import json
import re
from dataclasses import asdict, dataclass
from typing import Any

# Only these lines of a journal say anything that a summary holds.
_TELLING = re.compile(
    rb'"event":"(JobStarted|Recorded|Voided|TakenBack|MoveMade|AlarmRaised|AlarmAnswered|CautionAccepted|Ended|Stopped|WentOn)"'
)
_LAST = b'"last":true'


@dataclass(frozen=True)
class Summary:
    """One job. state: a verdict, `stopped`, `open`, or `damaged` for a journal that cannot be read; began and last: times as they were journalled.

    layout: pinion shims, preload and carrier; gauges: every instrument that gave a reading; causes: what alarms were answered with.
    """

    job_id: str
    title: str = ""
    state: str = "damaged"
    began: str = ""
    last: str = ""
    units: str = ""
    layout: tuple[str, ...] = ()
    teeth: tuple[int, int] = (0, 0)
    readings: int = 0
    void: int = 0
    moves: int = 0
    cautions: int = 0
    failed: tuple[str, ...] = ()
    gauges: tuple[str, ...] = ()
    causes: tuple[str, ...] = ()

    def json(self) -> dict[str, Any]:
        """As plain JSON values."""
        return asdict(self)

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> "Summary":
        """What `json` gave, after a way through text."""
        fields: dict[str, Any] = {name: tuple(value) if isinstance(value, list) else value for name, value in data.items()}
        return cls(**fields)

    @property
    def words(self) -> str:
        """Everything that a search looks through, in small letters."""
        parts = (
            self.job_id,
            self.title,
            self.state,
            *self.layout,
            f"{self.teeth[0]}:{self.teeth[1]}",
            *self.failed,
            *self.gauges,
            *self.causes,
        )
        return "\n".join(parts).casefold()


def summary(job_id: str, raw: bytes) -> Summary:
    """The summary of a journal's bytes; what comes after the last whole batch does not count, as everywhere."""
    try:
        return _summary(job_id, raw[: _whole(raw)])
    except (ValueError, KeyError, TypeError, IndexError):
        return Summary(job_id)


def _whole(raw: bytes) -> int:
    """The length of the whole batches: to the end of the last line that closes one."""
    at = raw.rfind(_LAST)
    while at >= 0:
        end = raw.find(b"\n", at)
        if end >= 0:
            return end + 1
        at = raw.rfind(_LAST, 0, at)
    return 0


def _summary(job_id: str, raw: bytes) -> Summary:
    lines = raw.split(b"\n")[:-1]
    told = [json.loads(line) for line in lines if _TELLING.search(line)]
    start, last = told[0], json.loads(lines[-1])
    job, axle = start["job"], start["job"]["axle"]
    found: dict[str, Any] = {"state": "open", "failed": ()}
    void: set[str] = set()
    readings = moves = cautions = 0
    gauges: dict[str, None] = {}
    causes: dict[str, None] = {}
    for line in told[1:]:
        match line["event"]:
            case "Recorded":
                readings += 1
                void |= {line["replaces"]} if line["replaces"] else set()
                if line["source"] == "gauge":
                    gauges[line["gauge"]] = None
            case "Voided":
                void |= set(line["ids"])
            case "TakenBack":
                void.add(line["id"])
            case "MoveMade":
                moves += 1
            case "CautionAccepted":
                cautions += 1
            case "AlarmAnswered":
                causes[line["answer"]] = None
            case "Ended":
                found = {"state": line["verdict"], "failed": tuple(line["failed"])}
            case "Stopped":
                found["state"] = "stopped"
            case "WentOn":
                found["state"] = "open"
    return Summary(
        job_id=job_id,
        title=job["title"],
        began=start["at"],
        last=last["at"],
        units=job["units"],
        layout=(axle["pinion_shims"], axle["preload"], axle["carrier"]),
        teeth=(axle["ring_teeth"], axle["pinion_teeth"]),
        readings=readings,
        void=len(void),
        moves=moves,
        cautions=cautions,
        gauges=tuple(gauges),
        causes=tuple(causes),
        **found,
    )
