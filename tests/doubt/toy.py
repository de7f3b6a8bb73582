"""A toy in place of the model: errands that square their points, and one that dies on its way."""

from __future__ import annotations

import os
from dataclasses import dataclass

import numpy as np

from explore.search.crew import Kit


@dataclass(frozen=True)
class Squares:
    """Work that any process does alike: the squares of some points, first and second column summed."""

    points: np.ndarray
    fatal_marker: str = ""

    @property
    def shape(self):
        """One number a point."""
        return (len(self.points),)

    def carried_out(self, evaluator):
        """Square; where a marker is asked for, the process is killed unless the marker is there."""
        if self.fatal_marker and not os.path.exists(self.fatal_marker):
            raise KeyboardInterrupt
        return np.sin(self.points[:, 0]) ** 2 + evaluator * self.points[:, 1]


def model(case):
    """What a worker process builds first: nothing but a number."""
    return 2.0


def kit():
    """What a crew needs."""
    return Kit(None, None, model)
