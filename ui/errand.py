"""Long work asked for by the pages: begun once, looked at as it goes on, ended at the reader's word."""

from __future__ import annotations

import pickle
import subprocess
import sys
import threading
import time
from collections import OrderedDict
from dataclasses import dataclass, field
from typing import Any

import streamlit as st

from ui.commission import News

#: Seconds after which an errand that nobody looks at any more is not begun.
FORGOTTEN = 4.0
REMEMBERED = 64
NOT_BEGUN = News(words="waiting for its turn")
START = "from ui.worker import main; main()"  # as a module of its name, so that both ends mean the same records
ENDED = "ended before it was done"


@dataclass(slots=True, eq=False)
class Errand:
    """One piece of work and the last word of it.

    Parameters
    ----------
    name : str
        Function of :mod:`ui.worker`.
    arguments : tuple
        For it.
    news : News
        The last word.
    begun, looked, ended : float or None
        Readings of :func:`time.monotonic` [s].
    due : float
        Reading from which it may be begun [s].
    """

    name: str
    arguments: tuple[Any, ...]
    news: News = NOT_BEGUN
    begun: float | None = None
    looked: float = field(default_factory=time.monotonic)
    ended: float | None = None
    due: float = 0.0

    @property
    def seconds(self) -> float:
        """Time that it has taken [s]."""
        return 0.0 if self.begun is None else (self.ended or time.monotonic()) - self.begun


class Lane:
    """One worker process with the errands that wait for it; the newest goes first."""

    def __init__(self) -> None:
        self._known: OrderedDict[Any, Errand] = OrderedDict()
        self._waiting: list[Errand] = []
        self._change = threading.Condition()
        self._process: subprocess.Popen[bytes] | None = None
        self._current: Errand | None = None
        threading.Thread(target=self._run, daemon=True, name="errands").start()

    def ask(self, key: Any, name: str, *arguments: Any, after: float = 0.0) -> Errand:
        """The errand of a key, begun if it is new; what was ended or failed stays so until :meth:`again`.

        With ``after`` it is begun once somebody has looked at it for so long [s]: what a reader only passes by is never
        begun, and the page is drawn first.
        """
        with self._change:
            errand = self._known.get(key)
            if errand is None:
                errand = Errand(name=name, arguments=arguments, due=time.monotonic() + after)
                self._known[key] = errand
                while len(self._known) > REMEMBERED:
                    self._known.popitem(last=False)
            self._queue(errand)
        return errand

    def _queue(self, errand: Errand) -> None:
        errand.looked = time.monotonic()
        new = errand is not self._current and errand not in self._waiting
        if new and not errand.news.done and errand.looked >= errand.due:
            self._waiting.append(errand)
            self._change.notify()

    def look(self, errand: Errand) -> News:
        """The last word of an errand; one that waits takes the place of one that nobody looks at any more."""
        with self._change:
            self._queue(errand)
            current = self._current
            left = current is not None and current is not errand and errand.looked - current.looked > FORGOTTEN
            if left and errand in self._waiting and self._process is not None and current is not None:
                self._stop(current)
                self._process.kill()
        return errand.news

    def again(self, key: Any) -> None:
        """Forget what was found for a key."""
        with self._change:
            self._known.pop(key, None)

    def end(self, errand: Errand) -> None:
        """End an errand; the best answer so far stays."""
        with self._change:
            if errand in self._waiting:
                self._waiting.remove(errand)
            self._stop(errand)
            if errand is self._current and self._process is not None:
                self._process.kill()

    @staticmethod
    def _stop(errand: Errand) -> None:
        if not errand.news.done:
            errand.news = News(words=ENDED, best=errand.news.best, done=True)
            errand.ended = time.monotonic()

    def _run(self) -> None:
        while True:
            with self._change:
                while not self._waiting:
                    self._change.wait()
                errand = self._waiting.pop()
                if time.monotonic() - errand.looked > FORGOTTEN:
                    continue
                self._current = errand
                errand.begun = time.monotonic()
            try:
                self._carry_out(errand)
            finally:
                errand.ended = time.monotonic()
                with self._change:
                    self._current = None

    def _carry_out(self, errand: Errand) -> None:
        process = self._worker()
        if process.stdin is None or process.stdout is None:
            return
        try:
            pickle.dump((errand.name, errand.arguments), process.stdin)
            process.stdin.flush()
            while not errand.news.done:
                news: News = pickle.load(process.stdout)
                if errand.news.done:  # ended meanwhile
                    break
                errand.news = news
        except (EOFError, OSError, ValueError, pickle.UnpicklingError):
            self._stop(errand)
        if errand.news.words == ENDED:
            process.kill()
            process.wait()

    def _worker(self) -> subprocess.Popen[bytes]:
        with self._change:
            if self._process is None or self._process.poll() is not None:
                self._process = subprocess.Popen(
                    [sys.executable, "-c", START], stdin=subprocess.PIPE, stdout=subprocess.PIPE
                )
            return self._process


@st.cache_resource(show_spinner=False)
def lane(name: str) -> Lane:
    """The lane of a name: ``checks`` for what a moved target waits for, ``plans`` for searches."""
    del name
    return Lane()
