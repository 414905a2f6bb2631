"""Child processes: started with our end tied to theirs, watched, and stopped in the reverse order.

Signals only raise a flag here; every wait looks at the flag. So nothing can break into the stopping itself,
and whatever was started is always on the list of what is to be stopped.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, TYPE_CHECKING

if TYPE_CHECKING:
    from plantcare.standalone.account import Account

POLL_S = 0.05
LOG_LIMIT_BYTES = 20 * 1024 * 1024
_PR_SET_PDEATHSIG = 1
_HURRIED_PATIENCE_S = 1.0


class ReportedError(Exception):
    """Something the user must be told; the message is the whole report."""


class Stopped(Exception):
    """The user asked to stop while something was still being started."""


class StopRequest:
    """The wish to stop, as SIGINT, SIGTERM and SIGHUP express it; a second signal asks to hurry."""

    def __init__(self) -> None:
        self.received: list[signal.Signals] = []

    def listen(self) -> None:
        """Take the three signals over, but leave ignored what the shell or nohup told us to ignore."""
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            if signal.getsignal(number) is not signal.SIG_IGN:
                signal.signal(number, lambda got, _frame: self.received.append(signal.Signals(got)))

    def __bool__(self) -> bool:
        return bool(self.received)

    @property
    def hurry(self) -> bool:
        """Return whether a second signal came."""
        return len(self.received) > 1

    def refuse(self) -> None:
        """Raise Stopped if the wish is there."""
        if self.received:
            raise Stopped


@dataclass(frozen=True)
class Farewell:
    """How a program is asked to end: signals in turn, each with its patience in seconds.

    `orphaned` is what the kernel sends when we are gone; nobody waits or asks again then.
    """

    steps: tuple[tuple[signal.Signals, float], ...]
    orphaned: signal.Signals


POLITE = Farewell(((signal.SIGTERM, 10.0),), signal.SIGTERM)


@dataclass(frozen=True)
class Program:
    """What is to be started: `said` is its standard input, `account` the rights it gets instead of ours."""

    name: str
    command: Sequence[str]
    log: Path
    environment: Mapping[str, str]
    folder: Path
    account: Account | None = None
    farewell: Farewell = POLITE
    said: bytes | None = None


@dataclass
class Child:
    """One running program with the log it writes."""

    name: str
    process: subprocess.Popen[bytes]
    log: Path
    farewell: Farewell

    @property
    def alive(self) -> bool:
        """Return whether the program still runs."""
        return self.process.poll() is None

    def stop(self, request: StopRequest) -> None:
        """End the program and whatever it started in its own process group; kill what does not listen."""
        for wanted, patience_s in self.farewell.steps:
            if not self.alive:
                break
            self.process.send_signal(wanted)
            self._await_end(patience_s, request)
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()

    def _await_end(self, patience_s: float, request: StopRequest) -> None:
        begun_s = time.monotonic()
        while self.alive:
            waited_s = time.monotonic() - begun_s
            if waited_s > (min(patience_s, _HURRIED_PATIENCE_S) if request.hurry else patience_s):
                return
            time.sleep(POLL_S)

    def obituary(self) -> str:
        """Say how the program ended, with the last lines of its log."""
        code = self.process.poll()
        how = "still runs" if code is None else describe_end(code)
        return f"{self.name} {how}. The end of {self.log}:\n{last_lines(self.log)}"

    def trim_log(self) -> None:
        """Begin the log anew once it is beyond the limit; it is open for appending, so this is safe."""
        if self.log.exists() and self.log.stat().st_size > LOG_LIMIT_BYTES:
            os.truncate(self.log, 0)


def describe_end(code: int) -> str:
    """Say in words how a program with this return code ended."""
    if code >= 0:
        return f"ended with exit code {code}"
    try:
        return f"was ended by {signal.Signals(-code).name}"
    except ValueError:
        return f"was ended by signal {-code}"


def last_lines(log: Path, count: int = 15) -> str:
    """Return the last lines of a log, indented, or a note that it is empty."""
    try:
        lines = log.read_text(encoding="utf-8", errors="replace").splitlines()[-count:]
    except OSError as trouble:
        return f"  (not readable: {trouble})"
    return "\n".join(f"  {line}" for line in lines) or "  (empty)"


def end_with_parent(wanted: signal.Signals) -> Callable[[], None] | None:
    """Return a hook by which the kernel signals the child when we die, even by SIGKILL (Linux only)."""
    if sys.platform != "linux":
        return None
    libc = ctypes.CDLL(None)
    parent = os.getpid()

    def hook() -> None:
        libc.prctl(_PR_SET_PDEATHSIG, int(wanted), 0, 0, 0)
        if os.getppid() != parent:
            os._exit(1)

    return hook


def launch(program: Program) -> Child:
    """Start a program in a session of its own, its output in a fresh log.

    Raises ReportedError when the program can't be started at all.
    """
    program.log.write_bytes(b"")
    account = program.account
    with program.log.open("ab") as output:
        try:
            process = subprocess.Popen(
                program.command,
                stdin=subprocess.DEVNULL if program.said is None else subprocess.PIPE,
                stdout=output,
                stderr=subprocess.STDOUT,
                cwd=program.folder,
                env=dict(program.environment),
                start_new_session=True,
                preexec_fn=end_with_parent(program.farewell.orphaned),  # noqa: PLW1509 - we have one thread
                user=account.uid if account else None,
                group=account.gid if account else None,
                extra_groups=[] if account else None,
            )
        except OSError as trouble:
            message = f"{program.name} could not be started: {trouble}"
            raise ReportedError(message) from trouble
    if program.said is not None and process.stdin is not None:
        _say(process.stdin, program.said)
    return Child(program.name, process, program.log, program.farewell)


def _say(pipe: IO[bytes], said: bytes) -> None:
    with contextlib.suppress(BrokenPipeError), pipe:
        pipe.write(said)
