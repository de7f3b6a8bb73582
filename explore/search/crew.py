"""Processes that carry out legs: started with the interpreter's own command, so that scripts need no guard.

A worker reads its tasks from a pipe and answers on another, both as pickles
between processes of one user on one machine. It is deaf to Ctrl-C, which is for the parent to handle,
and ends when its input closes. A worker that dies is started again and its task given to the new one.
"""

from __future__ import annotations

import contextlib
import pickle
import queue
import subprocess
import tempfile
import threading
import traceback
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import IO, Any, Protocol

from explore.config.schema import Case
from explore.design.space import Space
from explore.errors import InputError
from explore.search.leg import Evaluator, Order, run_leg
from explore.search.nursery import WORKER, Nursery, Worker
from explore.search.population import Genes
from explore.second_process import started

EvaluatorFactory = Callable[[Case], Evaluator]


class Errand(Protocol):
    """A task of another room: what is to be done is its own affair, it travels as a pickle and needs the model only."""

    def carried_out(self, evaluator: Any) -> Any:
        """Do it and return what came of it."""
        ...


Task = Order | Genes | Errand
ATTEMPTS = 3
"""A worker killed for memory by chance survives the second time; one that dies thrice dies of its leg."""
POLL_S = 0.5
"""How late Ctrl-C and the end of the time are noticed: not felt, and no load."""


class LegError(Exception):
    """A leg failed by a defect; carries the traceback of the process it ran in."""


@dataclass(frozen=True)
class Kit:
    """What a process needs before its first task."""

    case: Case
    space: Space
    factory: EvaluatorFactory


def carry_out(task: Task, kit: Kit, evaluator: Evaluator) -> Any:
    """Run a leg, evaluate single designs (genes give input and output columns), or run another room's errand."""
    if isinstance(task, Order):
        return run_leg(task, kit.space, evaluator, kit.case.scenario.objectives)
    if not isinstance(task, Genes):
        return task.carried_out(evaluator)
    columns = kit.space.decode(task.unit, task.choices)
    return {**columns, **evaluator.evaluate(columns)}


class Alone:
    """The crew of one: a task runs in this process when its result is waited for."""

    size = 1

    def __init__(self, kit: Kit, evaluator: Callable[[], Evaluator]):
        self._kit, self._evaluator = kit, evaluator
        self._queue: list[tuple[int, Task]] = []

    @property
    def free(self) -> int:
        """How many tasks would start at once."""
        return self.size - len(self._queue)

    def submit(self, key: int, task: Task) -> None:
        """Give a task out under a key of the caller's."""
        self._queue.append((key, task))

    def wait(self, seconds: float) -> list[tuple[int, Any]]:
        """Return what was finished, as (key, result)."""
        if not self._queue:
            return []
        key, task = self._queue.pop(0)
        return [(key, carry_out(task, self._kit, self._evaluator()))]

    def close(self) -> None:
        """Nothing to end."""


class Crew:
    """Several worker processes."""

    def __init__(self, size: int, kit: Kit, log: IO[bytes]):
        self.size = size
        self._nursery = Nursery(log) if Nursery.possible() else None
        self._idle = [_Hand(kit, log, self._nursery) for _ in range(size)]
        self._busy: list[_Hand] = []
        self._answers: queue.Queue[tuple[_Hand, int, Any]] = queue.Queue()

    @property
    def free(self) -> int:
        """How many tasks would start at once."""
        return len(self._idle)

    def submit(self, key: int, task: Task) -> None:
        """Give a task to an idle worker under a key of the caller's."""
        hand = self._idle.pop()
        self._busy.append(hand)
        threading.Thread(
            target=lambda: self._answers.put((hand, key, hand.answer(task))), name="leg", daemon=True
        ).start()

    def wait(self, seconds: float) -> list[tuple[int, Any]]:
        """Return what was finished, as (key, result), after at most ``seconds``.

        Raises :class:`InputError` if the model refused its input, :class:`LegError` on a defect.
        """
        try:
            hand, key, answer = self._answers.get(timeout=seconds)
        except queue.Empty:
            return []
        self._busy.remove(hand)
        self._idle.append(hand)
        if isinstance(answer, BaseException):
            raise answer
        return [(key, answer)]

    def close(self) -> None:
        """End the workers, and abandon what they are doing."""
        for hand in (*self._idle, *self._busy):
            hand.end()
        if self._nursery is not None:
            self._nursery.close()


@contextlib.contextmanager
def crew_of(size: int, kit: Kit, evaluator: Callable[[], Evaluator]) -> Iterator[Alone | Crew]:
    """Engage ``size`` processes, of one this; in the end they end, and what they logged is gone.

    ``evaluator`` gives this process's model, asked for with the first task: others get ready while it is being made.
    """
    with tempfile.TemporaryFile() as log:
        crew = Crew(size, kit, log) if size > 1 else Alone(kit, evaluator)
        try:
            yield crew
        finally:
            crew.close()


Engage = Callable[[int], Alone | Crew]
"""Gives the crew for so many tasks."""


@contextlib.contextmanager
def engaged(size: int, kit: Kit, evaluator: Callable[[], Evaluator]) -> Iterator[Engage]:
    """Engage ``size`` processes when first there is more than one task, and keep them for all tasks that follow.

    What a process reads before its first task takes it a second or two. One task is done in this process.
    """
    with contextlib.ExitStack() as kept:
        many = cache(lambda: kept.enter_context(crew_of(size, kit, evaluator)))
        yield lambda tasks: many() if tasks > 1 else Alone(kit, evaluator)


def all_done(crew: Alone | Crew, tasks: Sequence[Task]) -> list[Any]:
    """Carry out all tasks and return their results in order."""
    results: dict[int, Any] = {}
    waiting = iter(enumerate(tasks))
    while len(results) < len(tasks):
        while crew.free and (item := next(waiting, None)) is not None:
            crew.submit(*item)
        results.update(crew.wait(POLL_S))
    return [results[place] for place in range(len(tasks))]


class _Hand:
    """One worker process, started anew when it dies; made with its first task where the nursery makes it."""

    def __init__(self, kit: Kit, log: IO[bytes], nursery: Nursery | None):
        self._kit, self._log, self._nursery = kit, log, nursery
        self._ended = False
        self._worker = None if nursery else self._start()

    def answer(self, task: Any) -> Any:
        """Have the worker do ``task``; an exception is returned, not raised."""
        for _ in range(ATTEMPTS):
            try:
                self._worker = worker = self._worker or self._start()
                if self._ended:  # while it was being made
                    self._kill()
                    break
                send(worker.stdin, task)
                return receive(worker.stdout)
            except (OSError, ValueError, EOFError, pickle.UnpicklingError):
                if self._ended:
                    break
                self._kill()
        return LegError(f"a worker process died {ATTEMPTS} times on one leg: {self._last_words()}")

    def end(self) -> None:
        """Kill the process for good; it holds nothing that is not also here."""
        self._ended = True
        self._kill()

    def _kill(self) -> None:
        worker, self._worker = self._worker, None
        if worker is None:
            return
        worker.kill()
        for pipe in (worker.stdin, worker.stdout):
            with contextlib.suppress(OSError):
                pipe.close() if pipe else None
        worker.wait()

    def _start(self) -> Worker:
        pipe = subprocess.PIPE
        worker: Worker = (
            self._nursery.worker()
            if self._nursery
            else started(WORKER, source=pipe, sink=pipe, log=self._log)
        )
        with contextlib.suppress(OSError):
            send(worker.stdin, self._kit)
        return worker

    def _last_words(self) -> str:
        try:
            self._log.seek(0)
            lines = self._log.read().decode(errors="replace").strip().splitlines()
        except ValueError:  # closed: the crew has ended and nobody will read this
            lines = []
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
