"""Everything nestlib raises on purpose.

::

    NestlibError                 exit 4
    ├── InputError               exit 2   something the user gave us cannot be used
    │   ├── DrawingError                  a drawing cannot be read
    │   ├── JobError                      a job file or part list cannot be understood
    │   ├── LimitError                    the machine cannot cut this job
    │   └── StockError                    the rack does not have that, or cannot be opened
    ├── OutputError              exit 2   the result cannot be written there
    └── StoppedError             exit 3   the user stopped before there was anything to keep

Every message says where, what is wrong and what to do about it. An `InputError`
carries all the problems that were found, not only the first.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong with what the user gave us.

    Parameters
    ----------
    file : str
        Path of the file, as the user named it; empty if it is not about a file.
    place : str
        Where in the file: ``"line 12"``, ``"row 4, column quantity"``, ``"layer CUT"``.
    problem : str
        What is wrong, in plain words, with the offending value.
    remedy : str
        What to do about it.
    """

    file: str
    place: str
    problem: str
    remedy: str

    def __str__(self) -> str:
        where = ": ".join(part for part in (self.file, self.place) if part)
        text = f"{where}: {self.problem}" if where else self.problem
        end = "" if self.remedy.endswith("?") else "."
        return f"{text}. {self.remedy}{end}" if self.remedy else f"{text}."


class NestlibError(Exception):
    """Base of all errors that nestlib raises on purpose."""

    exit_code = 4


class InputError(NestlibError):
    """Something the user gave us cannot be used.

    Parameters
    ----------
    problems : Problem or iterable of Problem
        Everything that was found, in the order of the file.
    """

    exit_code = 2

    def __init__(self, problems: Problem | Iterable[Problem]) -> None:
        self.problems = [problems] if isinstance(problems, Problem) else list(problems)
        super().__init__("\n".join(str(p) for p in self.problems))


class DrawingError(InputError):
    """A drawing cannot be read."""


class JobError(InputError):
    """A job file or a part list cannot be understood."""


class LimitError(InputError):
    """The machine cannot cut this job."""


class StockError(InputError):
    """The rack does not have that, or cannot be opened."""


class OutputError(NestlibError):
    """The result cannot be written there."""

    exit_code = 2


class StoppedError(NestlibError):
    """The user stopped before there was anything to keep."""

    exit_code = 3
