"""The pages in a real browser: nothing is blocked by the policy, and a phone scrolls one way only.

The browser is driven over its own debugging pipe, so that nothing has to be installed but itself.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from pytest_django.live_server_helper import LiveServer

from tests.makers import make_site
from tests.people import member
from tests.workorders.desk.reader import reader_for
from tests.workorders.desk.test_first_page import leak
from tests.workorders.scene import gas_heard, gas_point, ordered

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or ""

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(not CHROMIUM, reason="no Chromium on this machine"),
]

QUIET = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-dev-shm-usage",
    "--hide-scrollbars",
    "--remote-debugging-pipe",
)

TO_3_AND_4 = """
import fcntl, os, sys
ours = [fcntl.fcntl(int(one), fcntl.F_DUPFD, 20) for one in sys.argv[1:3]]
os.dup2(ours[0], 3)
os.dup2(ours[1], 4)
os.execv(sys.argv[3], sys.argv[3:])
"""

PHONE = {"width": 390, "height": 844, "deviceScaleFactor": 1, "mobile": True}

SMALL_TARGETS = """
[...document.querySelectorAll('button, .press, summary, .rooms a, select, input:not([type=hidden])')]
    .filter(one => !['checkbox', 'radio'].includes(one.type) && one.offsetHeight && one.offsetHeight < 48)
    .map(one => one.outerHTML.slice(0, 80))
"""


class Browser:
    """A headless Chromium, spoken to over its file descriptors 3 and 4: JSON and a null byte."""

    def __init__(self, profile: Path) -> None:
        theirs_in, self._out = os.pipe()
        self._in, theirs_out = os.pipe()
        command = [CHROMIUM, *QUIET, f"--user-data-dir={profile}", "about:blank"]
        self.process = subprocess.Popen(
            [sys.executable, "-c", TO_3_AND_4, str(theirs_in), str(theirs_out), *command],
            pass_fds=(theirs_in, theirs_out),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(theirs_in)
        os.close(theirs_out)
        self._number, self._rest = 0, b""
        self.events: list[dict[str, Any]] = []
        target = self.ask("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.ask("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Log", "Network", "Runtime"):
            self.ask(f"{domain}.enable")

    def ask(self, method: str, **params: Any) -> dict[str, Any]:
        """Send one command and return its answer; events that come meanwhile are kept."""
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": params}
        if getattr(self, "_session", None):
            message["sessionId"] = self._session
        os.write(self._out, json.dumps(message).encode() + b"\0")
        while True:
            told = self._next()
            if told.get("id") == self._number:
                assert "error" not in told, told
                return dict(told["result"])
            self.events.append(told)

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._rest:
            part = os.read(self._in, 65536)
            assert part, "the browser went away"
            self._rest += part
        first, self._rest = self._rest.split(b"\0", 1)
        return dict(json.loads(first))

    def open(self, address: str) -> None:
        """Open an address and wait until it is loaded."""
        self.events.clear()
        self.ask("Page.navigate", url=address)
        while not any(event.get("method") == "Page.loadEventFired" for event in self.events):
            self.events.append(self._next())

    def value(self, expression: str) -> Any:
        """Return what an expression gives on the open page."""
        return self.ask("Runtime.evaluate", expression=expression, returnByValue=True)["result"].get("value")

    def comes_true(self, expression: str, most_ms: int = 60_000) -> bool:
        """Wait in the page until an expression holds; say whether it did in time."""
        look = f"const look = () => ({expression}) ? done(true) : setTimeout(look, 50);"
        promise = f"new Promise(done => {{ {look} setTimeout(() => done(false), {most_ms}); look(); }})"
        told = self.ask("Runtime.evaluate", expression=promise, awaitPromise=True, returnByValue=True)
        return told["result"].get("value") is True

    def complaints(self) -> list[str]:
        """Return what the browser complained of on the open page."""
        return [
            event["params"]["entry"]["text"]
            for event in self.events
            if event.get("method") == "Log.entryAdded"
        ]

    def close(self) -> None:
        """End the browser."""
        self.process.terminate()
        self.process.wait(timeout=20)
        os.close(self._out)
        os.close(self._in)


@pytest.fixture
def browser(tmp_path: Path) -> Iterator[Browser]:
    opened = Browser(tmp_path / "profile")
    yield opened
    opened.close()


def signed_in(browser: Browser, live_server: LiveServer, user: Any) -> None:
    """Give the browser the session of somebody who logged in."""
    key = reader_for(user).cookies[settings.SESSION_COOKIE_NAME].value
    browser.ask(
        "Network.setCookie", name=settings.SESSION_COOKIE_NAME, value=key, url=live_server.url, httpOnly=True
    )


def paths() -> tuple[Any, list[str]]:
    """Make a plant; return its manager and the addresses of its pages."""
    site = make_site()
    gas = gas_heard(gas_point(site))
    order = ordered(gas)
    leak(site)
    pages = ["findings/", "orders/", "inbox/", "surveys/", "months/", "months/2026-03/", "jobs/", ""]
    of_site = [f"/sites/{site.code}/{page}" for page in pages]
    return member(site), [*of_site, f"/findings/{gas.pk}/", f"/orders/{order.pk}/", "/account/"]


class TestPagesInABrowser:
    def test_load_whole_under_the_content_security_policy(self, browser, live_server):
        user, addresses = paths()
        signed_in(browser, live_server, user)

        complaints = {}
        for address in addresses:
            browser.open(live_server.url + address)
            assert browser.value("document.querySelector('h1, .lead') !== null"), address
            assert browser.value("getComputedStyle(document.body).maxWidth") == "1400px", address
            complaints[address] = browser.complaints()

        assert complaints == {address: [] for address in addresses}

    @pytest.mark.parametrize("address", ["/api/docs/", "/api/reference/"])
    def test_describe_the_api_from_this_machine_alone(self, browser, live_server, address):
        browser.open(live_server.url + address)
        drawn = browser.comes_true("document.querySelector('.opblock, [data-section-id]') !== null")

        asked = [
            event["params"]["request"]["url"]
            for event in browser.events
            if event.get("method") == "Network.requestWillBeSent"
        ]
        foreign = [url for url in asked if not url.startswith((live_server.url, "data:", "blob:"))]
        assert (drawn, foreign, browser.complaints()) == (True, [], [])

    @pytest.mark.parametrize("width", [320, 390, 768, 1366])
    def test_scroll_one_way_only(self, browser, live_server, width):
        user, addresses = paths()
        signed_in(browser, live_server, user)
        browser.ask(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=800,
            deviceScaleFactor=1,
            mobile=width < 500,
        )

        too_wide = []
        for address in addresses:
            browser.open(live_server.url + address)
            if browser.value("document.documentElement.scrollWidth") > width:
                too_wide.append(address)

        assert too_wide == []

    def test_offer_large_targets_on_a_phone(self, browser, live_server):
        user, addresses = paths()
        signed_in(browser, live_server, user)
        browser.ask("Emulation.setDeviceMetricsOverride", **PHONE)

        found = {}
        for address in addresses:
            browser.open(live_server.url + address)
            browser.value("document.querySelectorAll('details').forEach(d => d.open = true)")
            found[address] = browser.value(SMALL_TARGETS)

        assert found == {address: [] for address in addresses}

    def test_skip_to_the_content_by_the_first_tab(self, browser, live_server):
        user, addresses = paths()
        signed_in(browser, live_server, user)
        browser.open(live_server.url + addresses[0])

        browser.ask("Input.dispatchKeyEvent", type="keyDown", key="Tab", code="Tab", windowsVirtualKeyCode=9)

        assert browser.value("document.activeElement.className") == "skip"
        assert browser.value("document.activeElement.getBoundingClientRect().left >= 0") is True
