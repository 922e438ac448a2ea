"""A file is put in place when it is whole: until then what was there stays, and nothing half done is left."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path


@contextlib.contextmanager
def put_whole(path: Path) -> Iterator[Path]:
    """Give a name beside ``path`` to write to; at the end of the block that file takes the place of ``path``.

    Raises
    ------
    OSError
        Naming ``path``: a full disk does not say which file it was. What has been written is taken away, after Ctrl-C too.
    """
    near = path.with_name(f".{path.name}.part")
    try:
        yield near
        near.replace(path)
    except OSError as error:
        if error.filename not in (None, str(near)):  # of another file
            raise
        raise OSError(error.errno, error.strerror or str(error), str(path)) from error
    finally:
        with contextlib.suppress(OSError):  # where nothing could be written, nothing is left to take away
            near.unlink(missing_ok=True)


def write_whole(path: Path, content: str | bytes) -> None:
    """Write text (UTF-8) or bytes to ``path``: complete or not at all."""
    with put_whole(path) as near:
        near.write_bytes(content.encode() if isinstance(content, str) else content)
