"""Mails handed to a real mail server in another process: there, away, slow and refusing."""

from __future__ import annotations

import email
import email.policy
import socket
import subprocess
import sys
import time
import uuid
from collections.abc import Callable, Iterator
from datetime import timedelta
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import pytest

from findings.logbook.models import Entry
from findings.plant.models import Membership
from plantcare.people.models import User
from tests.makers import NOW
from tests.people import actor_at
from tests.workorders.inbox.post import JOB, Crew, crew, told
from tests.workorders.scene import at_once, gas_heard, gas_point
from workorders.inbox.actions import MailNotParked, retry_mail, send_mails
from workorders.inbox.actions.sending import _claim, _mine
from workorders.inbox.models import Mail
from workorders.inbox.rules import PAUSES

pytestmark = [pytest.mark.processes, pytest.mark.django_db(transaction=True)]

SERVER = Path(__file__).parent / "mail_server.py"
Start = Callable[[str], Path]


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def server(settings: Any, tmp_path: Path) -> Iterator[Start]:
    """Return what starts a mail server of one kind; without a start nobody listens at the address."""
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_TIMEOUT = "127.0.0.1", free_port(), 2
    settings.DEFAULT_FROM_EMAIL = "Plantcare <plantcare@plant.example>"
    started: list[subprocess.Popen[bytes]] = []

    def start(how: str) -> Path:
        command = [sys.executable, str(SERVER), str(settings.EMAIL_PORT), how, str(tmp_path)]
        started.append(subprocess.Popen(command))
        while not (tmp_path / "ready").exists():
            assert started[-1].poll() is None
            time.sleep(0.05)
        return tmp_path

    yield start
    for process in started:
        process.kill()
        process.wait()


def waiting() -> Crew:
    """Let one mail wait: of a danger, to the manager."""
    here = crew()
    User.objects.filter(pk=here.planner.pk).update(email="")
    Membership.objects.filter(user=here.planner).update(ended_at=NOW)
    gas_heard(gas_point(here.site))
    told()
    assert Mail.objects.count() == 1
    return here


def sent(at: Any = NOW) -> dict[str, int]:
    """Run the job and return what it did, zeros left out."""
    return {name: count for name, count in send_mails(actor=JOB, at=at).items() if count}


def taken(folder: Path) -> list[EmailMessage]:
    """Return what the server took."""
    kept = sorted(folder.glob("*.eml"))
    return [
        email.message_from_bytes(one.read_bytes(), policy=email.policy.default)  # type: ignore[misc]
        for one in kept
    ]


class TestAServerThatTakes:
    def test_gets_the_mail_in_text_and_html_with_its_marks(self, server: Start) -> None:
        folder = server("takes")
        here = waiting()

        counts = sent()

        [mail], row = taken(folder), Mail.objects.get()
        assert counts == {"sent": 1}
        assert (mail["To"], mail["Message-ID"]) == (here.manager.email, row.message_id)
        assert mail["Auto-Submitted"] == "auto-generated"
        assert mail["List-Unsubscribe"].endswith(f"/sites/{here.site.code}/inbox/#wishes>")
        assert [part.get_content_type() for part in mail.iter_parts()] == ["text/plain", "text/html"]

    def test_gets_it_once(self, server: Start) -> None:
        folder = server("takes")
        waiting()

        assert [sent(), sent()] == [{"sent": 1}, {}]
        assert len(taken(folder)) == 1

    def test_gets_each_once_from_two_senders(self, server: Start) -> None:
        folder = server("takes")
        here = crew()
        for _ in range(3):
            gas_heard(gas_point(here.site))
        told()

        at_once(*[sent] * 2)

        assert len(taken(folder)) == Mail.objects.filter(state="sent").count() == 6

    def test_gets_it_again_with_the_same_mark_from_one_that_died_before_writing_it_down(
        self, server: Start, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        folder = server("takes")
        waiting()
        with monkeypatch.context() as patch:
            patch.setattr("workorders.inbox.actions.sending._end", _die)
            with pytest.raises(SystemExit):
                sent()
        Mail.objects.update(leased_until=NOW - timedelta(days=4_000))

        sent()

        assert len({mail["Message-ID"] for mail in taken(folder)}) == 1
        assert len(taken(folder)) == 2


def _die(*_: Any) -> None:
    raise SystemExit


class TestAServerThatIsAway:
    def test_puts_the_mail_off(self, server: Start) -> None:
        waiting()

        counts = sent()

        mail = Mail.objects.get()
        assert (counts, mail.state, mail.attempts) == ({"again_later": 1}, "waiting", 1)
        assert mail.next_try_at >= NOW + PAUSES[0]

    def test_is_tried_no_sooner_than_the_pause(self, server: Start) -> None:
        waiting()
        sent()

        assert sent(NOW + timedelta(seconds=30)) == {}

    def test_gets_the_mail_when_it_is_back(self, server: Start) -> None:
        waiting()
        sent()
        folder = server("takes")

        assert sent(NOW + timedelta(minutes=2)) == {"sent": 1}
        assert len(taken(folder)) == 1

    def test_lets_one_mail_speak_for_all_in_a_run(self, server: Start) -> None:
        here = crew()
        for _ in range(3):
            gas_heard(gas_point(here.site))
        told()

        assert sent() == {"again_later": 1}

    def test_is_given_up_after_the_last_pause_with_its_reason_and_an_entry(self, server: Start) -> None:
        waiting()
        at = NOW
        for _ in range(len(PAUSES) + 1):
            sent(at)
            at += timedelta(days=2)

        mail = Mail.objects.get()
        entry = Entry.objects.get(act="mail.parked")
        assert (mail.state, mail.last_error) == (
            "parked",
            "The server was not there (ConnectionRefusedError).",
        )
        assert (entry.subject_id, entry.reason) == (mail.pk, mail.last_error)


class TestAServerThatStalls:
    def test_costs_its_time_and_puts_the_mail_off(self, server: Start) -> None:
        server("stalls")
        waiting()

        assert sent() == {"again_later": 1}
        assert Mail.objects.get().state == "waiting"


class TestAServerThatRefuses:
    def test_the_person_for_good_parks_the_mail_at_once(self, server: Start) -> None:
        server("refuses_person")
        waiting()

        assert sent() == {"parked": 1}
        assert Mail.objects.get().last_error == "550 5.1.1 No such person here"

    def test_the_mail_for_good_parks_it_at_once(self, server: Start) -> None:
        server("refuses_mail")
        waiting()

        assert sent() == {"parked": 1}

    def test_for_now_puts_it_off(self, server: Start) -> None:
        server("refuses_for_now")
        waiting()

        assert sent() == {"again_later": 1}
        assert Mail.objects.get().last_error == "451 4.7.1 Come back later"


class TestWhoNeedNotHear:
    def test_somebody_without_an_address_ends_the_mail(self, server: Start) -> None:
        here = waiting()
        User.objects.filter(pk=here.manager.pk).update(email="")

        assert sent() == {"dropped": 1}

    def test_somebody_who_left_ends_the_mail(self, server: Start) -> None:
        here = waiting()
        Membership.objects.filter(user=here.manager).update(ended_at=NOW)

        assert sent() == {"dropped": 1}
        assert Mail.objects.get().last_error == "The person works there no longer."


class TestRetry:
    def test_takes_a_parked_mail_up_again(self, server: Start) -> None:
        here = waiting()
        Mail.objects.update(state="parked", last_error="550", ended_at=NOW)
        retry_mail(actor=actor_at(here.site, "planner"), at=NOW, mail_id=Mail.objects.get().pk)
        server("takes")

        assert sent() == {"sent": 1}

    def test_is_for_parked_mails_only(self, server: Start) -> None:
        here = waiting()

        with pytest.raises(MailNotParked):
            retry_mail(actor=actor_at(here.site, "planner"), at=NOW, mail_id=Mail.objects.get().pk)


def test_a_sender_that_lost_its_lease_writes_nothing(server: Start) -> None:
    waiting()
    mail = _claim(NOW, None)
    assert mail is not None
    Mail.objects.update(lease=uuid.uuid4())

    assert _mine(mail).update(state="sent", ended_at=NOW) == 0
