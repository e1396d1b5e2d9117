"""What can go wrong by the user's hand: one small tree.

BenchError
├── BadInputError (ValueError)         a file, key or option is wrong: exit status 2
│   ├── UnknownUnitError               "18 furlongs"
│   ├── DimensionError                 millimetres asked of a torque
│   └── ImpossibleValueError           a negative drag, a tooth count of zero
└── JournalError (OSError)             the store cannot be written, or another process holds the job

A damaged frame, an unclear word or a doubtful reading is none of these: it is a value (`Refusal`, an event), never raised.
"""


class BenchError(Exception):
    """Anything the user can put right; `str()` of it is one clear line."""


class BadInputError(BenchError, ValueError):
    """A job file, key or option is wrong. Scenes: a spec without a unit; `solve etch` without `sign`."""


class UnknownUnitError(BadInputError):
    """A unit nobody here knows. Scenes: "18lbs" for a drag; a job file with `unit = "inch-pounds"`."""


class DimensionError(BadInputError):
    """Two quantities of different kinds meet. Scenes: a torque wrench at a backlash step; `shim=18lb-in`."""


class ImpossibleValueError(BadInputError):
    """A number that cannot be true. Scenes: a ring gear with 0 teeth; a shim of -0.005 in."""


class JournalError(BenchError, OSError):
    """The journal cannot be written or read. Scenes: the disk is full; a second process opened the same job."""
