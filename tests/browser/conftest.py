"""A browser of the system, headless and cut off from every network. None at all fails; it is never skipped."""

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

Open = Callable[..., "Opened"]


@dataclass
class Opened:
    """A page, what it asked for, and what its console said."""

    page: Page
    asked: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium as the system has it."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    assert path, "no chromium: apt-get install chromium"
    with sync_playwright() as started:
        # a browser started by root has no sandbox; WebGL is drawn by the processor, as no graphics card is there
        own = ["--no-sandbox"] if os.getuid() == 0 else []
        running = started.chromium.launch(executable_path=path, args=[*own, "--enable-unsafe-swiftshader"])
        yield running
        running.close()


@pytest.fixture
def opened(browser: Browser) -> Iterator[Open]:
    """Opens a file from disk, offline, in a window of some size."""
    contexts = []

    def open_file(path: Path, width: int = 1600, height: int = 1000, *, touch: bool = False) -> Opened:
        context = browser.new_context(
            viewport={"width": width, "height": height}, offline=True, has_touch=touch, reduced_motion="reduce"
        )
        contexts.append(context)
        result = Opened(context.new_page())
        result.page.on("request", lambda request: result.asked.append(request.url))
        result.page.on("console", lambda message: result.said.append(message.text))
        result.page.on("pageerror", lambda error: result.said.append(str(error)))
        result.page.goto(path.as_uri())
        return result

    yield open_file
    for context in contexts:
        context.close()
