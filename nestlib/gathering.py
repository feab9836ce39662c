"""Going on after a problem, to find the others too."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager

from nestlib.errors import InputError, JobError, Problem


class Gathering:
    """Problems found so far, raised together at the end.

    Examples
    --------
    >>> gathering = Gathering()
    >>> for word in "abc":
    ...     with gathering.going_on():
    ...         raise JobError(Problem("", "", f"no {word}", ""))
    >>> gathering.finish()
    Traceback (most recent call last):
    nestlib.errors.JobError: no a.
    no b.
    no c.
    """

    def __init__(self) -> None:
        self._problems: dict[Problem, type[InputError]] = {}

    @contextmanager
    def going_on(self) -> Iterator[None]:
        """Keep the problems of an error that is raised inside, and go on behind it."""
        try:
            yield
        except InputError as error:
            self.add(type(error), error.problems)

    def add(self, kind: type[InputError], problems: Iterable[Problem]) -> None:
        """Keep problems of one kind; each is told once."""
        for problem in problems:
            self._problems.setdefault(problem, kind)

    def finish(self) -> None:
        """Raise all problems, as their kind if they are of one kind.

        Raises
        ------
        InputError
            If there is any problem; a `JobError` if there are several kinds.
        """
        kinds = set(self._problems.values())
        if kinds:
            kind = kinds.pop() if len(kinds) == 1 else JobError
            raise kind(self._problems)
