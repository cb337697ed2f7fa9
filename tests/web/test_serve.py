"""The command itself: a server that starts, says where it is, and ends without a trace."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from discscan.web.serve import _invitation, _own_address

ROOT = Path(__file__).parents[2]


def start(*arguments: str, scratch: Path) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "discscan", "serve", *arguments], cwd=ROOT, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, env={**os.environ, "TMPDIR": str(scratch)},
    )  # fmt: skip


@pytest.mark.parametrize("end", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_it_says_where_it_is_answers_there_and_leaves_nothing_behind(tmp_path: Path, end: signal.Signals) -> None:
    server = start("--port", "0", scratch=tmp_path)
    try:
        assert server.stdout is not None
        (address,) = re.findall(r"http://127\.0\.0\.1:\d+/", server.stdout.readline())
        with urllib.request.urlopen(address, timeout=10) as answer:
            assert answer.status == 200 and b"Judge it" in answer.read()
        (private,) = tmp_path.iterdir()
        assert private.stat().st_mode & 0o077 == 0
        server.send_signal(end)
        _, errors = server.communicate(timeout=10)
    finally:
        server.kill()
    assert server.returncode == 0 and errors == ""
    assert list(tmp_path.iterdir()) == []


def test_a_port_that_is_taken_is_told(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        server = start("--port", str(taken.getsockname()[1]), scratch=tmp_path)
        _, errors = server.communicate(timeout=20)
    assert server.returncode == 2
    assert "Nothing can be served at port" in errors and "--port" in errors


def test_the_invitation_holds_the_link_and_a_code_only_for_phones() -> None:
    link = "http://192.168.7.3:8037/?token=abc"
    assert link in _invitation(link, with_code=True) and "\u2588" in _invitation(link, with_code=True)
    assert "\u2588" not in _invitation("http://127.0.0.1:8037/", with_code=False)


def test_the_own_address_is_one_that_this_machine_can_listen_at() -> None:
    with socket.create_server((_own_address(), 0)):
        pass
