"""The command line, as a user calls it from an empty shell."""

import socket

import pytest

from plantcare.standalone.command import main
from plantcare.standalone.ports import HOST, choose_port, free_port
from plantcare.standalone.processes import ReportedError
from tests.standalone.lane import run_plantcare


class TestHelp:
    def test_is_the_answer_to_no_command(self, capsys):
        assert (main([]), "evaluation" in capsys.readouterr().out) == (0, True)

    def test_names_every_command(self, capsys):
        main([])
        told = capsys.readouterr().out

        assert all(command in told for command in ("demo", "up", "manage", "test", "bench"))


class TestPort:
    def test_asked_for_is_refused_when_taken(self):
        with socket.socket() as taken:
            taken.bind((HOST, 0))
            taken.listen()

            with pytest.raises(ReportedError, match="is taken"):
                choose_port(taken.getsockname()[1], 8000)

    def test_usual_one_gives_way_to_the_next_when_taken(self):
        with socket.socket() as taken:
            taken.bind((HOST, 0))
            taken.listen()
            usual = taken.getsockname()[1]

            assert choose_port(None, usual) > usual

    def test_is_the_one_asked_for_when_free(self):
        port = free_port()

        assert choose_port(port, 8000) == port


class TestFresh:
    def test_is_refused_for_a_database_that_is_not_ours(self, tmp_path):
        answer = run_plantcare(
            "demo",
            "--fresh",
            "--data",
            str(tmp_path),
            environment={"DATABASE_URL": "postgres://127.0.0.1:1/x", "REDIS_URL": "redis://127.0.0.1:1/0"},
        )

        assert (answer.returncode, "DATABASE_URL names yours" in answer.stderr) == (1, True)


@pytest.mark.processes
class TestTestCommand:
    def test_returns_the_exit_code_of_pytest(self):
        assert run_plantcare("test", "tests/standalone/absent.py").returncode == pytest.ExitCode.USAGE_ERROR

    def test_hands_both_addresses_to_pytest(self):
        answer = run_plantcare("test", "-q", "-p", "no:cacheprovider", "tests/standalone/test_addresses.py")

        assert answer.returncode == pytest.ExitCode.OK, answer.stdout + answer.stderr
