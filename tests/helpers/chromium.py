"""Debian's chromium for tests of the page: a fixture that is None, and says so, where it or playwright is missing."""

from __future__ import annotations

import os
import shutil
import sys

import pytest

CHROMIUM = next((path for name in ("chromium", "chromium-browser") if (path := shutil.which(name))), None)


@pytest.fixture(scope="module")
def chromium():
    """A started browser; None where there is none, which fails with CI=true and is reported elsewhere."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        sync_playwright = None
    if CHROMIUM is None or sync_playwright is None:
        text = "chromium or playwright is missing: the page was NOT seen in a browser"
        if os.environ.get("CI", "").lower() == "true":
            pytest.fail(text)
        sys.__stderr__.write(f"\n*** {text} ***\n")
        yield None
        return
    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield started
        started.close()
