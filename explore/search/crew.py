"""Processes that carry out legs: started with the interpreter's own command, so that scripts need no guard.

A worker reads its tasks from its standard input and answers on its standard output, both as pickles
between processes of one user on one machine. It is deaf to Ctrl-C, which is for the parent to handle,
and ends when its input closes. A worker that dies is started again and its task given to the new one.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import queue
import subprocess
import sys
import tempfile
import threading
import traceback
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import IO, Any

from explore.errors import InputError
from explore.schema import Case
from explore.search.islands import Genes
from explore.search.leg import Evaluator, Order, run_leg
from explore.space import Space

EvaluatorFactory = Callable[[Case], Evaluator]
ATTEMPTS = 3


class LegError(Exception):
    """A leg failed by a defect; carries the traceback of the process it ran in."""


@dataclass(frozen=True)
class Kit:
    """What a process needs before its first task."""

    case: Case
    space: Space
    factory: EvaluatorFactory


def carry_out(task: Order | Genes, kit: Kit, evaluator: Evaluator) -> Any:
    """Run a leg, or evaluate single designs: genes give input and output columns."""
    if isinstance(task, Order):
        return run_leg(task, kit.space, evaluator, kit.case.scenario.objectives)
    columns = kit.space.decode(task.unit, task.choices)
    return {**columns, **evaluator.evaluate(columns)}


class Alone:
    """The crew of one: tasks run in this process, one after another, when results are asked for."""

    size = 1

    def __init__(self, kit: Kit, evaluator: Evaluator):
        self._kit, self._evaluator = kit, evaluator

    def results(self, tasks: Sequence[Any], *, stop: Callable[[], bool]) -> Iterator[tuple[int, Any]]:
        """Yield (place, result) of each task; begin none once ``stop()`` is true."""
        for place, task in enumerate(tasks):
            if stop():
                return
            yield place, carry_out(task, self._kit, self._evaluator)

    def close(self) -> None:
        """Nothing to end."""


class Crew:
    """Several worker processes."""

    def __init__(self, size: int, kit: Kit):
        self.size = size
        self._log = tempfile.TemporaryFile()  # noqa: SIM115 - lives as long as the workers that write to it
        self._hands = [_Hand(kit, self._log) for _ in range(size)]

    def results(self, tasks: Sequence[Any], *, stop: Callable[[], bool]) -> Iterator[tuple[int, Any]]:
        """Yield (place, result) as tasks finish; begin none once ``stop()`` is true.

        Raises :class:`InputError` if the model refused its input, :class:`LegError` on a defect.
        """
        waiting, answers = iter(enumerate(tasks)), queue.Queue[tuple[_Hand, int, Any]]()
        running = sum(self._give(hand, waiting, answers, stop) for hand in self._hands)
        while running:
            # With a timeout the wait can be interrupted by a signal on every platform.
            try:
                hand, place, answer = answers.get(timeout=0.5)
            except queue.Empty:
                continue
            running -= 1
            if isinstance(answer, BaseException):
                raise answer
            running += self._give(hand, waiting, answers, stop)
            yield place, answer

    def _give(
        self,
        hand: _Hand,
        waiting: Iterator[tuple[int, Any]],
        answers: queue.Queue[tuple[_Hand, int, Any]],
        stop: Callable[[], bool],
    ) -> bool:
        item = None if stop() else next(waiting, None)
        if item is None:
            return False
        place, task = item
        threading.Thread(
            target=lambda: answers.put((hand, place, hand.answer(task))), name="leg", daemon=True
        ).start()
        return True

    def close(self) -> None:
        """End the workers: their input is closed, and what they are doing is abandoned."""
        for hand in self._hands:
            hand.end()
        self._log.close()


class _Hand:
    """One worker process, started anew when it dies."""

    def __init__(self, kit: Kit, log: IO[bytes]):
        self._kit, self._log = kit, log
        self._process = self._start()

    def answer(self, task: Any) -> Any:
        """Have the worker do ``task``; an exception is returned, not raised."""
        for _ in range(ATTEMPTS):
            try:
                send(self._process.stdin, task)
                return receive(self._process.stdout)
            except (OSError, EOFError, pickle.UnpicklingError):
                self.end()
                self._process = self._start()
        return LegError(f"a worker process died {ATTEMPTS} times on one leg: {self._last_words()}")

    def end(self) -> None:
        """Kill the process; it holds nothing that is not also here."""
        self._process.kill()
        for pipe in (self._process.stdin, self._process.stdout):
            with contextlib.suppress(OSError):
                pipe.close() if pipe else None
        self._process.wait()

    def _start(self) -> subprocess.Popen[bytes]:
        environment = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", **os.environ}
        process = subprocess.Popen(
            [sys.executable, "-m", "explore.search.worker"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self._log,
            env=environment | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
        )
        with contextlib.suppress(OSError):
            send(process.stdin, self._kit)
        return process

    def _last_words(self) -> str:
        self._log.seek(0)
        lines = self._log.read().decode(errors="replace").strip().splitlines()
        return lines[-1] if lines else "it left no message"


def work(source: IO[bytes], sink: IO[bytes]) -> None:
    """Serve as a worker: read the kit, then tasks, and answer each, until the input ends."""
    kit: Kit = receive(source)
    evaluator: Evaluator | None = None
    while True:
        try:
            task = receive(source)
        except EOFError:
            return
        try:
            evaluator = evaluator or kit.factory(kit.case)
            answer: Any = carry_out(task, kit, evaluator)
        except InputError as error:
            answer = error
        except Exception:
            answer = LegError(traceback.format_exc())
        send(sink, answer)


def send(pipe: IO[bytes] | None, message: Any) -> None:
    """Write one message."""
    if pipe is None:
        raise EOFError
    pickle.dump(message, pipe, protocol=pickle.HIGHEST_PROTOCOL)
    pipe.flush()


def receive(pipe: IO[bytes] | None) -> Any:
    """Read one message; EOFError if the other side is gone."""
    if pipe is None:
        raise EOFError
    return pickle.load(pipe)
