"""Start, watch and stop, with small programs as stand-ins for the servers."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from plantcare.standalone.datafolder import PROJECT
from plantcare.standalone.processes import Farewell, Program, ReportedError, Stopped
from plantcare.standalone.supervisor import Supervisor
from tests.standalone.lane import BARE_ENVIRONMENT, make_program

pytestmark = pytest.mark.processes

RUNS_FOR_EVER = "import signal; print('ready', flush=True); signal.pause()"
DEAF = "import signal; signal.signal(signal.SIGTERM, signal.SIG_IGN); " + RUNS_FOR_EVER
IMPATIENT = Farewell(((signal.SIGTERM, 0.1),), signal.SIGTERM)


def wait_for_ready(supervisor, child):
    supervisor.wait_until(lambda: b"ready" in child.log.read_bytes(), what="a stand-in", limit_s=30)


class TestWatch:
    def test_names_the_program_that_ended_and_the_end_of_its_log(self, supervisor, folder):
        supervisor.start(make_program(folder, "print('no flour left'); raise SystemExit(3)", name="oven"))

        with pytest.raises(ReportedError, match=r"oven ended with exit code 3[\s\S]*no flour left"):
            supervisor.watch()

    def test_returns_when_the_user_wants_to_stop(self, supervisor, folder):
        supervisor.start(make_program(folder, RUNS_FOR_EVER))
        os.kill(os.getpid(), signal.SIGTERM)
        supervisor.watch()

        assert supervisor.request.received == [signal.SIGTERM]


class TestRun:
    def test_reports_a_failed_step_with_the_end_of_its_log(self, supervisor, folder):
        with pytest.raises(ReportedError, match=r"migrate ended with exit code 1[\s\S]*no such table"):
            supervisor.run(make_program(folder, "raise SystemExit('no such table')", name="migrate"))

    def test_shows_the_first_paragraph_of_a_long_step(self, supervisor, folder, capsys):
        supervisor.run(make_program(folder, r"print('dough\noven\n\nthe end')"), aloud=True)

        assert capsys.readouterr().out == "  dough\n  oven\n"

    def test_breaks_a_step_off_when_the_user_wants_to_stop(self, supervisor, folder):
        code = f"import os; os.kill({os.getpid()}, 15); {RUNS_FOR_EVER}"

        with pytest.raises(Stopped):
            supervisor.run(make_program(folder, code))

    def test_starts_nothing_once_the_user_wants_to_stop(self, supervisor, folder):
        signal.raise_signal(signal.SIGTERM)  # to this very thread, whatever others the runner has

        with pytest.raises(Stopped):
            supervisor.start(make_program(folder, RUNS_FOR_EVER))

    def test_reports_a_program_that_is_not_there(self, supervisor, folder):
        absent = Program("mixer", ["/nonexistent/mixer"], folder / "mixer.log", BARE_ENVIRONMENT, folder)

        with pytest.raises(ReportedError, match="mixer could not be started"):
            supervisor.run(absent)


class TestStop:
    def test_ends_the_last_started_first(self, folder):
        diary = folder / "diary"
        code = (
            "import signal, sys, pathlib\n"
            "def leave(*_):\n"
            f"    pathlib.Path({str(diary)!r}).open('a').write('NAME ')\n"
            "    sys.exit()\n"
            "signal.signal(signal.SIGTERM, leave)\n" + RUNS_FOR_EVER
        )
        with Supervisor() as run:
            for name in ("first", "second"):
                wait_for_ready(run, run.start(make_program(folder, code.replace("NAME", name), name=name)))

        assert diary.read_text() == "second first "

    def test_kills_what_does_not_listen(self, folder):
        with Supervisor() as run:
            child = run.start(make_program(folder, DEAF, farewell=IMPATIENT))
            wait_for_ready(run, child)

        assert child.process.returncode == -signal.SIGKILL

    def test_takes_the_children_of_a_child_along(self, folder):
        held = folder / "held-by-both"
        os.mkfifo(held)
        code = f"import os; os.open({str(held)!r}, os.O_WRONLY); os.fork(); {RUNS_FOR_EVER}"
        with Supervisor() as run:
            child = run.start(make_program(folder, code))
            pipe = held.open("rb")
            run.wait_until(lambda: child.log.read_bytes().count(b"ready") == 2, what="both", limit_s=30)

        with pipe:
            assert pipe.read() == b""  # comes only when nobody holds the other end any more


class TestParentKilled:
    @pytest.mark.skipif(sys.platform != "linux", reason="the kernel's help is Linux's")
    def test_ends_the_children_too(self, folder):
        script = (
            "import os, signal\n"
            "from pathlib import Path\n"
            "from plantcare.standalone.supervisor import Supervisor\n"
            "from tests.standalone.lane import make_program\n"
            "with Supervisor() as run:\n"
            f"    run.start(make_program(Path({str(folder)!r}), {RUNS_FOR_EVER!r}))\n"
            f"    log = Path({str(folder)!r}) / 'stand-in.log'\n"
            "    run.wait_until(lambda: b'ready' in log.read_bytes(), what='it', limit_s=30)\n"
            "    print(run.children[0].process.pid, flush=True)\n"
            "    os.kill(os.getpid(), signal.SIGKILL)\n"
        )
        parent = subprocess.run(
            [sys.executable, "-c", script],
            cwd=PROJECT,
            env=BARE_ENVIRONMENT,
            capture_output=True,
            check=False,
        )
        with Supervisor() as run:
            run.wait_until(lambda: not is_alive(int(parent.stdout)), what="the end", limit_s=30)


def is_alive(number):
    try:
        return Path(f"/proc/{number}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False


class TestForeground:
    def test_returns_the_exit_code(self, supervisor, folder):
        code = supervisor.foreground(
            [sys.executable, "-c", "raise SystemExit(5)"], environment=BARE_ENVIRONMENT, folder=folder
        )

        assert code == 5

    def test_hands_signals_on_and_counts_them_as_a_shell_does(self, supervisor, folder):
        ask_parent = f"import os; os.kill({os.getpid()}, 15); {RUNS_FOR_EVER}"

        code = supervisor.foreground(
            [sys.executable, "-c", ask_parent], environment=BARE_ENVIRONMENT, folder=folder
        )

        assert code == 128 + signal.SIGTERM


class TestLogs:
    def test_begin_anew_beyond_the_limit(self, supervisor, folder, monkeypatch):
        monkeypatch.setattr("plantcare.standalone.processes.LOG_LIMIT_BYTES", 3)
        child = supervisor.start(make_program(folder, RUNS_FOR_EVER))
        wait_for_ready(supervisor, child)
        child.trim_log()

        assert child.log.read_bytes() == b""
