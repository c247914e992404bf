"""Foretell how long a task takes still, by the last one of its kind."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

__all__ = ["TimeLeft"]


@dataclass
class TimeLeft:
    """Follow the stages of a task.

    Attributes
    ----------
    before : sequence of (str, float)
        Stages of the last task of its kind and how long each took [s].
    clock : callable
        Returns seconds.
    """

    before: Sequence[tuple[str, float]] = ()
    clock: Callable[[], float] = time.monotonic
    stages: list[tuple[str, float]] = field(default_factory=list)
    _began: float = 0.0
    _name: str = ""

    def stage(self, name: str) -> None:
        """Begin a stage."""
        self._end()
        self._name, self._began = name, self.clock()

    def end(self) -> list[tuple[str, float]]:
        """Return how long each stage took [s]."""
        self._end()
        self._name = ""
        return self.stages

    def told(self, step: int, steps: int | None) -> tuple[float | None, float | None]:
        """Return the share that is done, 0 to 1, and the time left [s].

        Both are None where no earlier task tells.
        """
        elapsed = self.clock() - self._began if self._name else 0.0
        at = len(self.stages)
        names = [name for name, _ in self.before]
        if self._name not in names:
            return None, None
        # The same stage may come twice; the nearest one not before this is meant.
        place = next(
            (n for n in range(at, len(names)) if names[n] == self._name),
            names.index(self._name),
        )
        foretold = self.before[place][1]
        if steps and step > 0:
            # What this stage shows by itself counts as much as it is done.
            own = elapsed * steps / step
            done = min(step / steps, 1.0)
            foretold = done * own + (1.0 - done) * max(foretold, elapsed)
        left = max(foretold - elapsed, 0.0)
        left += sum(seconds for _, seconds in self.before[place + 1 :])
        gone = sum(seconds for _, seconds in self.stages) + elapsed
        whole = gone + left
        return (gone / whole if whole > 0 else None), left

    def _end(self) -> None:
        if self._name:
            self.stages.append((self._name, self.clock() - self._began))
