"""Every error benchproof raises on purpose.

::

    BenchproofError
    ├── InputError            what was typed cannot be understood
    │   └── UnitError         a unit is missing, unknown or of the wrong dimension
    ├── RecordingRefusedError a reading would contradict what is already recorded
    ├── FileError             a file of the case is malformed or of a newer version
    ├── FormulaError          a derived quantity cannot be computed as written
    ├── PendingError          a value was asked for before it was measured
    ├── RunError              a notebook stopped before its end
    └── ConnectionFailedError an instrument did not answer, or not as expected

Each message says where, what, and what to do next.
"""


class BenchproofError(Exception):
    """Base of all errors raised on purpose.

    Examples
    --------
    >>> from benchproof.values.quantities import read_values
    >>> try:
    ...     read_values("12,10 V")
    ... except BenchproofError as problem:
    ...     print(type(problem).__name__)
    InputError
    """


class InputError(BenchproofError, ValueError):
    """What was typed cannot be understood."""


class UnitError(InputError):
    """A unit is missing, unknown or of the wrong dimension."""


class RecordingRefusedError(BenchproofError):
    """A reading would contradict what is already recorded."""


class FileError(BenchproofError):
    """A file of the case is malformed or was written by a newer version."""


class FormulaError(BenchproofError):
    """A derived quantity cannot be computed as it is written."""


class PendingError(BenchproofError):
    """A value was asked for before it was measured."""


class RunError(BenchproofError):
    """A notebook stopped before its end."""


class ConnectionFailedError(BenchproofError):
    """An instrument did not answer, or not as expected."""
