"""Put a folder of papers in place: all or nothing, and no paper of an earlier plan is left that no longer holds."""

from __future__ import annotations

import contextlib
import hashlib
import json
import shutil
from pathlib import Path

from rollroute.output.folder import make_folder, put_in_place
from rollroute.output.undisturbed import undisturbed
from rollroute.whole import put_whole, write_whole

LIST = "papers.json"  # which files we wrote, and their SHA-256
FORMAT, FORMAT_VERSION = "rollroute-papers", 1
OUTDATED = ".outdated"  # ending of an earlier paper that somebody has changed since


def put_papers_in_place(work: Path, out: Path, *, last: str, beside: Path | None = None) -> list[Path]:
    """Move all files of ``work`` to ``out``; ``last`` is put in place last, so that whoever opens it finds what it links to.

    Papers that an earlier plan wrote and this one does not are removed; where somebody has changed one since, it is kept and
    renamed, since a driver must not take it for a paper of this plan. Files that we never wrote are left alone.
    Files of ``beside`` are put in place too, and stand in no list of papers. Ctrl-C waits until all are there.
    """
    make_folder(out)
    with undisturbed():
        return [*_put_all(work, out, last), *(put_in_place(beside, out) if beside is not None else ())]


def _put_all(work: Path, out: Path, last: str) -> list[Path]:
    earlier = _read_list(out)
    names = sorted(p.relative_to(work).as_posix() for p in work.rglob("*") if p.is_file())
    fresh = {name: _digest(work / name) for name in names}
    with contextlib.ExitStack() as together:  # all are copied before the first is put in place; what is entered first comes last
        for name in sorted(names, key=lambda n: (n != last, n)):
            (out / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(work / name, together.enter_context(put_whole(out / name)))
    _take_away(out, {name: digest for name, digest in earlier.items() if name not in fresh})
    write_whole(out / LIST, json.dumps({"format": FORMAT, "version": FORMAT_VERSION, "files": fresh}, indent=1, ensure_ascii=False))
    return [out / name for name in [*names, LIST]]


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _read_list(out: Path) -> dict[str, str]:
    try:
        document = json.loads((out / LIST).read_text(encoding="utf-8"))
        files = document["files"] if document.get("format") == FORMAT else {}
        return {str(name): str(digest) for name, digest in files.items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return {}


def _take_away(out: Path, stale: dict[str, str]) -> None:
    root = out.resolve()
    for name, digest in stale.items():
        path = out / name
        if not path.is_file() or root not in path.resolve().parents:
            continue
        if _digest(path) == digest:
            path.unlink()
        else:
            path.replace(path.with_name(path.name + OUTDATED))
        folder = path.parent
        while folder.resolve() != root and not any(folder.iterdir()):
            folder.rmdir()
            folder = folder.parent
