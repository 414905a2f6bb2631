"""Real PostgreSQL from the installed packages: made, kept, refused, broken off, left over."""

import os

import psycopg
import pytest

from plantcare.standalone.leftovers import stop_left_over
from plantcare.standalone.ports import free_port
from plantcare.standalone.processes import ReportedError, Stopped, StopRequest, launch
from plantcare.standalone.supervisor import Supervisor
from tests.standalone.lane import make_postgres

pytestmark = pytest.mark.processes


def ask(url, question):
    with psycopg.connect(url) as connection:
        return connection.execute(question).fetchone()


class TestNewDatabase:
    def test_belongs_to_a_role_that_is_no_superuser(self, supervisor, programs, folder):
        url = make_postgres(programs, folder).open(supervisor)

        assert ask(url, "SELECT current_user, usesuper FROM pg_user WHERE usename = current_user") == (
            "plantcare",
            False,
        )

    def test_speaks_utf8_in_a_locale_that_is_the_same_everywhere(self, supervisor, programs, folder):
        url = make_postgres(programs, folder).open(supervisor)

        assert ask(
            url,
            "SELECT pg_encoding_to_char(encoding), datcollate FROM pg_database"
            " WHERE datname = current_database()",
        ) == ("UTF8", "C.UTF-8")

    def test_refuses_a_wrong_password(self, supervisor, programs, folder):
        url = make_postgres(programs, folder).open(supervisor)

        with pytest.raises(psycopg.OperationalError, match="password authentication failed"):
            psycopg.connect(url.replace("tarnbeck", "corran"))

    def test_leaves_no_password_file_behind(self, supervisor, programs, folder):
        make_postgres(programs, folder).open(supervisor)

        assert not (folder / "postgres.pw").exists()


class TestModes:
    def test_kept_data_is_written_safely(self, supervisor, programs, folder):
        url = make_postgres(programs, folder, kept=True).open(supervisor)

        assert ask(
            url,
            "SELECT current_setting('fsync'), current_setting('full_page_writes'),"
            " current_setting('synchronous_commit'), current_setting('data_checksums')",
        ) == ("on", "on", "on", "on")

    def test_scratch_data_is_written_fast(self, supervisor, programs, folder):
        url = make_postgres(programs, folder, kept=False).open(supervisor)

        assert ask(url, "SELECT current_setting('fsync')") == ("off",)


class TestSecondStart:
    def test_finds_the_data_of_the_first(self, programs, folder):
        with (
            Supervisor() as first,
            psycopg.connect(make_postgres(programs, folder).open(first)) as connection,
        ):
            connection.execute("CREATE TABLE oven AS SELECT 7 AS number")
        with Supervisor() as second:
            url = make_postgres(programs, folder).open(second)

            assert ask(url, "SELECT number FROM oven") == (7,)

    def test_makes_good_a_database_that_was_not_finished(self, supervisor, programs, folder):
        server = make_postgres(programs, folder)
        with Supervisor() as first:
            server._create(first)

        assert ask(server.open(supervisor), "SELECT current_user") == ("plantcare",)

    def test_stops_a_server_that_outlived_its_run(self, supervisor, programs, folder):
        server = make_postgres(programs, folder)
        with Supervisor() as first:
            server.open(first)
        options = ["-D", str(server.folder), "-h", "127.0.0.1", "-k", "", "-p", str(free_port())]
        left_over = launch(server._program("postgres", options))
        try:
            supervisor.wait_until(lambda: server._is_ready(left_over), what="the left-over", limit_s=30)
            server.open(supervisor)

            assert left_over.process.wait() == 0
        finally:
            left_over.stop(supervisor.request)

    def test_believes_no_number_that_belongs_to_another_program(self, folder):
        (folder / "postmaster.pid").write_text(f"{os.getpid()}\n")

        assert not stop_left_over(folder)


class TestRefusal:
    def test_names_the_dump_when_another_version_wrote_the_folder(self, supervisor, programs, folder):
        data = folder / "postgres"
        data.mkdir()
        (data / "PG_VERSION").write_text("12\n")

        with pytest.raises(ReportedError, match=r"written by PostgreSQL 12[\s\S]*pg_dump"):
            make_postgres(programs, folder).open(supervisor)

    def test_leaves_a_folder_of_another_version_as_it_was(self, supervisor, programs, folder):
        data = folder / "postgres"
        data.mkdir()
        (data / "PG_VERSION").write_text("12\n")

        with pytest.raises(ReportedError):
            make_postgres(programs, folder).open(supervisor)

        assert [path.name for path in data.iterdir()] == ["PG_VERSION"]

    def test_removes_nothing_from_a_folder_that_is_no_database(self, supervisor, programs, folder):
        data = folder / "postgres"
        data.mkdir()
        (data / "recipes.txt").write_text("ours")

        with pytest.raises(ReportedError, match="not a database"):
            make_postgres(programs, folder).open(supervisor)

        assert (data / "recipes.txt").read_text() == "ours"


class TestInterruptedInitdb:
    @pytest.fixture
    def interrupted(self, supervisor, programs, folder):
        class AsSoonAsInitdbWrites(StopRequest):
            def refuse(self):
                if (folder / "postgres.new" / "PG_VERSION").exists():
                    raise Stopped

        supervisor.request = AsSoonAsInitdbWrites()
        with pytest.raises(Stopped):
            make_postgres(programs, folder).open(supervisor)
        return folder

    def test_leaves_no_folder(self, interrupted):
        assert not list(interrupted.glob("postgres*/")) + list(interrupted.glob("postgres.pw"))

    def test_does_not_hinder_the_next_start(self, interrupted, programs):
        with Supervisor() as second:
            assert ask(make_postgres(programs, interrupted).open(second), "SELECT 1") == (1,)


class TestStop:
    def test_ends_the_server_and_its_note(self, programs, folder):
        with Supervisor() as run:
            make_postgres(programs, folder).open(run)
            server = run.children[0].process

        assert (server.returncode, (folder / "postgres" / "postmaster.pid").exists()) == (0, False)

    def test_reports_a_server_that_died(self, supervisor, programs, folder):
        make_postgres(programs, folder).open(supervisor)
        supervisor.children[0].process.kill()

        with pytest.raises(ReportedError, match=r"PostgreSQL was ended by SIGKILL[\s\S]*ready to accept"):
            supervisor.watch()
