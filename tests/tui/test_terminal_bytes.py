"""The installed program on a real pseudo-terminal, given bytes that are no text."""

from __future__ import annotations

import os
import select
import subprocess
import sys
import time
from pathlib import Path

import pytest

pty = pytest.importorskip("pty")
fcntl = pytest.importorskip("fcntl")
termios = pytest.importorskip("termios")

PATIENCE = 30.0


def _until(ours: int, words: bytes) -> bytes:
    """What the program drew until `words` stood in it."""
    seen = b""
    ends = time.monotonic() + PATIENCE
    while words not in seen:
        assert time.monotonic() < ends, seen[-2000:]
        if select.select([ours], [], [], 0.2)[0]:
            try:
                seen += os.read(ours, 65536)
            except OSError:
                raise AssertionError(f"the program ended: {seen[-2000:]!r}") from None
    return seen


def test_a_byte_that_is_no_text_does_not_end_the_program(tmp_path: Path) -> None:
    """0xE4 from a paste in another encoding: the program goes on, and the search takes what comes after."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, b"\x18\x00\x50\x00\x00\x00\x00\x00")
    words = [sys.executable, "-m", "checklist_tui", "demo", "--keep", str(tmp_path), "--no-bell"]
    env = {**os.environ, "TERM": "xterm-256color", "PYTHONIOENCODING": "utf-8", "LANG": "C.UTF-8"}
    child = subprocess.Popen(words, stdin=theirs, stdout=theirs, stderr=theirs, env=env, start_new_session=True)
    os.close(theirs)
    try:
        _until(ours, b"QO-01")
        os.write(ours, b"\xe4\xff\xfeQZX-77\r")
        _until(ours, b"QZX-77")
        assert child.poll() is None
    finally:
        child.kill()
        child.wait()
        os.close(ours)
