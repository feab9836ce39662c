"""Tries ahead of their turn.

Results are taken strictly in the order of the numbers of the tries. While the next one is
waited for, later ones may be under way; they are withdrawn when a success makes them void.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence

from nestlib.engine.attempts import Found, Task
from nestlib.engine.climb import Climb
from nestlib.engine.crew import Crew, Job

#: Seconds between two looks at the clock.
_GLANCE = 0.02

#: Makes the task of a search's try after so many others, given also how many tries of all
#: searches come before it; None if that is too far ahead.
Make = Callable[[Climb, int, int], Task | None]


class Pipeline:
    """Tries of several searches that take turns.

    Parameters
    ----------
    climbs : sequence of Climb
        The searches.
    crew : Crew
        Who carries the tries out.
    make : callable
        Makes tasks.
    over : callable
        Whether to stop at once.
    """

    def __init__(
        self, climbs: Sequence[Climb], crew: Crew, make: Make, over: Callable[[], bool]
    ) -> None:
        self.climbs, self.crew, self.make, self.over = climbs, crew, make, over
        self.queues: list[deque[Job]] = [deque() for _ in climbs]
        self.eras = [climb.era for climb in climbs]
        self.turn = 0

    def next(self) -> Found | None:
        """Return what the next try of the search whose turn it is found; None at the end."""
        self._withdraw_void()
        queue = self.queues[self.turn]
        while not (queue and queue[0].done()):
            self._hand_out()
            if self.over() or not queue:
                return None
            queue[0].wait(_GLANCE)
        found = queue.popleft().result()
        self.turn = (self.turn + 1) % len(self.climbs)
        return found

    def close(self) -> None:
        """Withdraw all tries under way."""
        for queue in self.queues:
            _withdraw(queue)

    def _withdraw_void(self) -> None:
        for k, climb in enumerate(self.climbs):
            if climb.era != self.eras[k]:
                self.eras[k] = climb.era
                _withdraw(self.queues[k])

    def _position(self, k: int) -> int:
        """Return how many tries come before the next one of a search to be handed out."""
        count = len(self.climbs)
        return (k - self.turn) % count + count * len(self.queues[k])

    def _hand_out(self) -> None:
        """Keep the crew busy, in the order in which results are wanted."""
        busy = sum(not job.done() for queue in self.queues for job in queue)
        while busy < self.crew.most or not self.queues[self.turn]:
            k = min(range(len(self.climbs)), key=self._position)
            ahead = len(self.queues[k])
            task = self.make(self.climbs[k], ahead, self._position(k))
            if task is None:
                return
            self.queues[k].append(self.crew.submit(task))
            busy += 1


def _withdraw(queue: deque[Job]) -> None:
    while queue:
        queue.pop().withdraw()
