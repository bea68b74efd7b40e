"""Work in a process of its own: answers, faults, progress, and an end whatever it does."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import pytest

from kilnpack.errors import InputFaulty
from kilnpack.workflow.aside import Aside, Asides, AsideState, work_aside
from tests.planning.lanes import lane_plan
from tests.web.asides import ThreadContext, broken_work, counted_plan, ended_work, faulty_work, full_work, slow_work

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture
def asides() -> Iterator[Asides]:
    """Room for two, ended with the test."""
    made = Asides(2)
    yield made
    made.end()


def over(aside: Aside) -> Aside:
    """Wait until it is over."""
    begun = time.monotonic()
    while aside.told.goes_on and time.monotonic() - begun < 240:
        time.sleep(0.05)
    return aside


def test_the_answer_of_the_other_process_comes_back(asides: Asides) -> None:
    """Guards the pipe: a plan made in a process of its own arrives, with the progress before it."""
    aside = over(asides.begin("a", counted_plan, what="planning", by="Piet"))
    assert aside.told.answer.firings == lane_plan().firings
    assert aside.told.progress is not None


def test_a_process_that_ends_without_a_word_is_said(asides: Asides, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the page: where nothing comes any more, the work has failed and does not seem to go on."""
    monkeypatch.setattr("kilnpack.workflow.aside.get_context", lambda _: ThreadContext())
    aside = over(asides.begin("a", ended_work, what="planning", by="Piet"))
    assert (aside.told.state, aside.told.said) == (AsideState.FAILED, "the process ended without an answer")


def test_one_at_a_time_for_a_key_and_few_in_all(asides: Asides, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the machine: a key in use is refused, and a third work in all; forgotten, there is room again."""
    monkeypatch.setattr("kilnpack.workflow.aside.get_context", lambda _: ThreadContext())
    asides.begin("a", slow_work, what="planning", by="Piet")
    with pytest.raises(InputFaulty, match="begun by Piet"):
        asides.begin("a", slow_work, what="planning", by="Olga")
    asides.begin("b", slow_work, what="a date", by="Olga")
    with pytest.raises(InputFaulty):
        asides.begin("c", counted_plan, what="a date", by="Lena")
    asides.forget("a")
    asides.forget("never begun")
    assert asides.of("a") is None
    assert over(asides.begin("c", counted_plan, what="a date", by="Lena")).told.state is AsideState.DONE


class Pipe:
    """Takes note of what is sent, or has nobody at its other end."""

    def __init__(self, *, gone: bool = False) -> None:
        self.sent: list[tuple[str, object]] = []
        self.gone = gone

    def send(self, word: tuple[str, object]) -> None:
        """Take a word."""
        if self.gone:
            raise BrokenPipeError
        self.sent.append(word)

    def close(self) -> None:
        """Say no more."""
        self.sent.append(("closed", None))


class Stop:
    """Says whether the work is to end."""

    def __init__(self, *, now: bool = False) -> None:
        self.now = now

    def is_set(self) -> bool:
        """Tell."""
        return self.now


@pytest.fixture
def quiet(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave signals and niceness of this process alone."""
    monkeypatch.setattr("kilnpack.workflow.aside.signal.signal", lambda *_: None)
    monkeypatch.setattr("kilnpack.workflow.aside.os.nice", lambda _: 0)


@pytest.mark.usefixtures("quiet")
def test_what_comes_of_the_work_is_sent() -> None:
    """Guards each outcome as it is sent: answer, findings, a fault of the program in words; the pipe is closed."""
    kinds = []
    for work in (counted_plan, faulty_work, broken_work):
        pipe = Pipe()
        work_aside(pipe, Stop(), work)  # type: ignore[arg-type]
        kinds.append([word for word, _ in pipe.sent])
    assert kinds == [["heard", "answer", "closed"], ["findings", "closed"], ["said", "closed"]]
    pipe = Pipe()
    work_aside(pipe, Stop(), full_work)  # type: ignore[arg-type]
    assert pipe.sent[0] == ("said", "the system refused: the disk is full; make room and do it again")


@pytest.mark.usefixtures("quiet")
@pytest.mark.parametrize(("pipe", "stop"), [(Pipe(gone=True), Stop()), (Pipe(), Stop(now=True))])
def test_work_ends_when_told_or_when_nobody_listens(pipe: Pipe, stop: Stop) -> None:
    """Guards against work that nobody waits for: a stop, or a pipe whose other end is gone, ends it with its best."""
    work_aside(pipe, stop, slow_work)  # type: ignore[arg-type]
    assert pipe.sent == [
        *([] if pipe.gone else [("heard", pipe.sent[0][1]), ("answer", lane_plan())]),
        ("closed", None),
    ]
