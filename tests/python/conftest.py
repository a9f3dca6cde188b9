"""Settings for all tests: the same examples on every run, no network but loopback."""

from __future__ import annotations

import socket
from typing import Any

import pytest
from hypothesis import settings

from steadyfilm._review import alarms

settings.register_profile("fixed", derandomize=True, deadline=None, max_examples=60)
settings.load_profile("fixed")


@pytest.fixture(autouse=True)
def _no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """Connections leave for loopback only."""
    connect = socket.socket.connect

    def guarded(self: socket.socket, address: Any) -> None:
        host = address[0] if isinstance(address, tuple) else ""
        if isinstance(address, tuple) and host not in ("127.0.0.1", "::1", "localhost"):
            raise AssertionError(f"a test tried to reach {host}")
        connect(self, address)

    monkeypatch.setattr(socket.socket, "connect", guarded)


@pytest.fixture(autouse=True)
def _coarse_quiet_periods(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Figures that reviews simulate are known to 5 % in tests that are not about them, to 1 % elsewhere."""
    if request.module.__name__ not in ("test_goldens", "test_review_alarms"):
        monkeypatch.setattr(alarms, "RELATIVE_ERROR", 0.05)
