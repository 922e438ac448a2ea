"""Fixtures of the output stage: pages written once, and a Chromium that reports whatever it asks of anybody."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from sample_itinerary import hostile, sample

from rollroute.output.link import write_link
from rollroute.output.map import write_map
from rollroute.output.words import Words

CHROMIUM_ARGUMENTS = ["--no-sandbox", "--headless=new", "--disable-gpu", "--disable-dev-shm-usage"]
PHONE, SMALL_PHONE, DESKTOP = (390, 844), (320, 640), (1280, 800)
VALID_UNTIL = datetime.fromisoformat("2099-03-15T06:00:00-03:00")


@pytest.fixture(scope="session")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Write every page once: the sample's and its hostile twin's map and link."""
    folder = tmp_path_factory.mktemp("pages")
    made = {name: folder / f"{name}.html" for name in ("map", "hostile_map", "link", "hostile_link", "corner_link", "spanish_map")}
    write_map(sample(), made["map"])
    write_map(sample(), made["spanish_map"], Words(language="es"))
    write_map(hostile(), made["hostile_map"])
    write_link(sample(), made["link"], valid_until=VALID_UNTIL)
    write_link(hostile(), made["hostile_link"])
    write_link(sample(), made["corner_link"], hide_start=True)
    return made


@dataclass
class Visit:
    """An open page and what it did: requests beyond itself, console errors, dialogs."""

    page: Any
    requests: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    dialogs: list[str] = field(default_factory=list)

    @property
    def external(self) -> list[str]:
        """Requests that leave the page; ``data:`` and ``blob:`` stay inside it."""
        return [url for url in self.requests if not url.startswith(("data:", "blob:"))]


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """Start Debian's Chromium, or skip where there is none."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    program = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if program is None:
        pytest.skip("no Chromium on the PATH")
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=CHROMIUM_ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def visit(chromium: Any) -> Iterator[Callable[..., Visit]]:
    """Open a file in a window of its own: ``visit(path, (width, height), "light", **context_options)``."""
    contexts: list[Any] = []

    def open_(path: Path, size: tuple[int, int] = DESKTOP, scheme: str = "light", url: str | None = None, **options: Any) -> Visit:
        context = chromium.new_context(viewport={"width": size[0], "height": size[1]}, color_scheme=scheme, bypass_csp=False, **options)
        contexts.append(context)
        seen = Visit(context.new_page())
        address = url or path.as_uri()
        if url is not None:
            body = path.read_text(encoding="utf-8")
            seen.page.route("**/*", lambda route: route.fulfill(body=body, content_type="text/html; charset=utf-8"))
        seen.page.on("request", lambda request: seen.requests.append(request.url) if request.url != address else None)
        seen.page.on("console", lambda message: seen.errors.append(message.text) if message.type in ("error", "warning") else None)
        seen.page.on("pageerror", lambda error: seen.errors.append(str(error)))
        seen.page.on("dialog", lambda dialog: (seen.dialogs.append(dialog.message), dialog.dismiss()))
        seen.page.goto(address)
        return seen

    yield open_
    for context in contexts:
        context.close()
