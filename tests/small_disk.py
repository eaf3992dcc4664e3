"""A disk that is soon full: no file may grow beyond so many bytes while it lasts."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest


@contextmanager
def small_disk(size: int) -> Iterator[None]:
    """Writing beyond `size` bytes of any file fails, as it does on a full disk. Skips where that cannot be played."""
    resource = pytest.importorskip("resource")
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
