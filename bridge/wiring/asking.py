"""One question at a time that takes longer to answer than the sound can wait, answered in a process beside it."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from multiprocessing import get_context
from multiprocessing.connection import Connection
from types import TracebackType
from typing import Generic, Self, TypeVar

from bridge.wiring.steady import ignore_signals, signals_held

_Answer = TypeVar("_Answer")
_GONE = "the process that answers ended early"


class NotAnsweredError(Exception):
    """A question has no answer, and the message says why."""


class Asking(Generic[_Answer]):
    """Answers questions; a context manager. This one is for sound that waits: the answer is there at once.

    So the same sound is always heard alike. See :class:`AskingBeside` for sound that does not wait.
    """

    def __init__(self) -> None:
        self._answers: list[_Answer] = []

    @property
    def busy(self) -> bool:
        """Whether a question has been asked whose answer was not fetched yet."""
        return bool(self._answers)

    def ask(self, question: Callable[[], _Answer]) -> None:
        """Begin to answer; only while not ``busy``. Raises NotAnsweredError when it is known that nobody can."""
        self._answers.append(question())

    def answer(self) -> _Answer | None:
        """The answer, once, or None where there is none yet. Raises NotAnsweredError for one that never comes."""
        return self._answers.pop() if self._answers else None

    def __enter__(self) -> Self:
        """Make ready for the first question."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Wait for nothing."""


class AskingBeside(Asking[_Answer]):
    """Answers questions in a process of its own, since a thread would hold up the sound.

    The process starts when this is entered, which raises OSError where none can be, and ends when this is left,
    whatever is being asked. Questions and answers travel by pickle: a question is a function of an importable module
    or a ``functools.partial`` of one.
    """

    def __init__(self) -> None:
        super().__init__()
        spawn = get_context("spawn")
        self._here, self._there = spawn.Pipe()
        self._process = spawn.Process(target=_serve, args=(self._there,), name="reedwire-asking", daemon=True)
        self._asked = False

    @property
    def busy(self) -> bool:
        """As of the class above."""
        return self._asked

    def ask(self, question: Callable[[], _Answer]) -> None:
        """As of the class above."""
        self._asked = True
        try:
            self._here.send(question)
        except OSError as error:
            raise NotAnsweredError(_GONE) from error

    def answer(self) -> _Answer | None:
        """As of the class above; never waits."""
        try:
            if not self._asked or not self._here.poll():
                return None
            reply: tuple[_Answer | None, str | None] = self._here.recv()
        except (EOFError, OSError) as error:
            raise NotAnsweredError(_GONE) from error
        self._asked = False
        answer, trouble = reply
        if trouble is not None:
            raise NotAnsweredError(trouble)
        return answer

    def __enter__(self) -> Self:
        """Start the process; it is ready within a second or two, and a question that is asked earlier waits for it."""
        with signals_held():
            self._process.start()
        self._there.close()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End the process; it holds nothing that could be lost."""
        self._here.close()
        self._process.kill()
        self._process.join()


def _serve(asked: Connection) -> None:
    """Be the process: answer until the other end is closed, which the system does for one that died."""
    ignore_signals()
    with suppress(EOFError, OSError):
        while True:
            asked.send(_answered(asked.recv()))


def _answered(question: Callable[[], object]) -> tuple[object, str | None]:
    """The answer, or in its place what went wrong."""
    try:
        return question(), None
    except Exception as error:  # noqa: BLE001 -- whatever it is, the performance goes on
        return None, str(error) or type(error).__name__
