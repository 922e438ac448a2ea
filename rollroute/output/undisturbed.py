"""Work that Ctrl-C may not cut in two: it is heard, and answered once the work is done."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any


@contextmanager
def undisturbed() -> Iterator[None]:
    """Hold back Ctrl-C until the end of the block; elsewhere than in the main thread nothing has to be held back."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    heard: list[tuple[Any, ...]] = []
    earlier = signal.signal(signal.SIGINT, lambda *args: heard.append(args))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, earlier)
    if heard and callable(earlier):
        earlier(*heard[0])


@contextmanager
def deaf_children() -> Iterator[None]:
    """Processes that are started in the block do not hear Ctrl-C: whoever started them ends them."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    earlier = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, earlier)
