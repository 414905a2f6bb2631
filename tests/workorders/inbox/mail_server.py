"""A mail server in a process of its own, as the tests of sending need it: it takes, refuses or stalls.

Run as `python mail_server.py PORT HOW FOLDER`: each mail taken becomes a file of the folder.
"""

from __future__ import annotations

import asyncio
import sys
import time
import uuid
from pathlib import Path
from typing import Any

from aiosmtpd.controller import Controller

ANSWERS = {
    "refuses_person": "550 5.1.1 No such person here",
    "refuses_for_now": "451 4.7.1 Come back later",
}


class Handler:
    """Do with each mail what the server was started for."""

    def __init__(self, how: str, folder: Path) -> None:
        self.how, self.folder = how, folder

    async def handle_RCPT(  # noqa: N802 - the library's name
        self, server: Any, session: Any, envelope: Any, address: str, options: Any
    ) -> str:
        """Take or refuse a person."""
        if self.how in ANSWERS:
            return ANSWERS[self.how]
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:  # noqa: N802
        """Keep the mail, or let its sender wait."""
        if self.how == "stalls":
            await asyncio.sleep(60)
        if self.how == "refuses_mail":
            return "554 5.6.0 Not like that"
        (self.folder / f"{uuid.uuid4()}.eml").write_bytes(envelope.content)
        return "250 Kept"


if __name__ == "__main__":
    port, how, folder = int(sys.argv[1]), sys.argv[2], Path(sys.argv[3])
    controller = Controller(Handler(how, folder), hostname="127.0.0.1", port=port)
    controller.start()
    (folder / "ready").touch()
    while True:
        time.sleep(1)
