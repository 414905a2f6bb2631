"""The desk's clock: pages read it themselves, so it is set for every test here."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.makers import NOW

TODAY = NOW + timedelta(days=1)


@pytest.fixture(autouse=True)
def _today(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: TODAY)
