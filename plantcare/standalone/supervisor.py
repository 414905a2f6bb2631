"""One run: what was started, what must be tidied, and the wish to stop."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import Self

from plantcare.standalone.processes import (
    POLL_S,
    Child,
    Program,
    ReportedError,
    StopRequest,
    end_with_parent,
    last_lines,
    launch,
)

_LOG_CHECK_S = 60.0


def say(text: str = "") -> None:
    """Print a line to the user; a closed terminal or pipe must not keep us from stopping in order."""
    with contextlib.suppress(OSError, ValueError):
        print(text, flush=True)


def remark(text: str) -> None:
    """Print a line beside the output proper, which may be going into a file."""
    with contextlib.suppress(OSError, ValueError):
        print(text, file=sys.stderr, flush=True)


class Supervisor:
    """Holds everything of one run and undoes it in reverse order, whatever happens."""

    def __init__(self) -> None:
        self.request = StopRequest()
        self.tidying = contextlib.ExitStack()
        self.children: list[Child] = []

    def __enter__(self) -> Self:
        self.request.listen()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.tidying.close()

    def start(self, program: Program) -> Child:
        """Start a program that is to run until the end; its stopping is registered at once."""
        self.request.refuse()
        child = launch(program)
        self.tidying.callback(child.stop, self.request)
        self.children.append(child)
        return child

    def forget(self, child: Child) -> None:
        """Stop one child now; it is no longer watched."""
        self.children.remove(child)
        child.stop(self.request)

    def run(self, program: Program, *, aloud: bool = False) -> None:
        """Run a program to its end; `aloud` shows its first paragraph to the user while it is written.

        Raises ReportedError on another exit code than 0 or a server's death, Stopped on the user's wish.
        """
        self.request.refuse()
        child = launch(program)
        shown = 0
        try:
            while child.alive:
                self.request.refuse()
                self._refuse_the_dead()
                shown = _show_new_lines(child, shown) if aloud else 0
                time.sleep(POLL_S)
            if aloud:
                _show_new_lines(child, shown)
        finally:
            child.stop(self.request)
        if child.process.returncode != 0:
            raise ReportedError(child.obituary())

    def wait_until(self, ready: Callable[[], bool], *, what: str, limit_s: float) -> None:
        """Wait for a condition.

        Raises ReportedError when it takes too long or a child dies, Stopped on the user's wish.
        """
        end_s = time.monotonic() + limit_s
        while not ready():
            self.request.refuse()
            self._refuse_the_dead()
            if time.monotonic() > end_s:
                log = self.children[-1].log
                message = f"{what} took longer than {limit_s:.0f} s. The end of {log}:\n{last_lines(log)}"
                raise ReportedError(message)
            time.sleep(POLL_S)

    def watch(self) -> None:
        """Return when the user wants to stop; raises ReportedError when a child ends by itself."""
        trim_s = time.monotonic() + _LOG_CHECK_S
        while not self.request:
            self._refuse_the_dead()
            if time.monotonic() > trim_s:
                for child in self.children:
                    child.trim_log()
                trim_s = time.monotonic() + _LOG_CHECK_S
            time.sleep(POLL_S)

    def foreground(self, command: Sequence[str], *, environment: Mapping[str, str], folder: Path) -> int:
        """Run a program on the user's own terminal and return its exit code, as a shell would count it."""
        self.request.refuse()
        with subprocess.Popen(
            command,
            cwd=folder,
            env=dict(environment),
            preexec_fn=end_with_parent(signal.SIGTERM),  # noqa: PLW1509 - we have one thread
        ) as process:
            handed_on = 0
            while process.poll() is None:
                for wanted in self.request.received[handed_on:]:
                    handed_on += 1
                    if not (wanted is signal.SIGINT and _shares_terminal()):
                        process.send_signal(wanted)
                time.sleep(POLL_S)
        code = process.returncode
        return code if code >= 0 else 128 - code

    def _refuse_the_dead(self) -> None:
        for child in self.children:
            if not child.alive:
                message = f"{child.obituary()}\nStopping everything."
                raise ReportedError(message)


def _show_new_lines(child: Child, shown: int) -> int:
    """Show the whole lines of the log's first paragraph that are new; return how many are shown by now.

    A traceback is left to the report of the failure.
    """
    text = child.log.read_text(encoding="utf-8", errors="replace")
    whole = text[: text.rfind("\n") + 1]
    lines = whole.partition("\n\n")[0].partition("Traceback (")[0].splitlines()
    for line in lines[shown:]:
        say(f"  {line}")
    return max(shown, len(lines))


def _shares_terminal() -> bool:
    """Return whether Ctrl-C on our terminal reaches our foreground program without our help."""
    try:
        return os.tcgetpgrp(sys.stdin.fileno()) == os.getpgrp()
    except (OSError, ValueError):
        return False
