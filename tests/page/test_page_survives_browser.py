"""The page and its server each outlive the other, and two windows on one print: in a real browser."""

from __future__ import annotations

import signal

import numpy as np
import pytest
from PIL import Image

from tests.helpers.chromium import chromium
from tests.helpers.page_server import serving

browser = chromium


@pytest.fixture(scope="module")
def art(tmp_path_factory):
    rgba = np.zeros((40, 90, 4), np.uint8)
    for k, colour in enumerate(((200, 40, 40), (30, 60, 160), (240, 200, 90))):
        rgba[5:35, 5 + 27 * k : 30 + 27 * k] = (*colour, 255)
    path = tmp_path_factory.mktemp("art") / "<img onerror=1>.png"
    Image.fromarray(rgba).save(path)
    return path


def opened(browser, server):
    page = browser.new_page()
    page.goto(server.address)
    page.wait_for_selector("#place-table:not([hidden])", timeout=120_000)
    return page


def named(page, name):
    page.locator(".station .name").nth(0).click()
    field = page.locator('[data-field="name"]')
    field.fill(name)
    field.press("Enter")


def test_two_windows_and_a_server_that_dies(browser, art, tmp_path):
    """The older window is told and offered its change again; without a server lifting goes on, and nothing is lost."""
    if browser is None:
        return
    with serving(tmp_path) as server:
        one = server.laid(art, garment="white tee")
        assert one["art"] == "img-onerror-1-.png"
        first, second = opened(browser, server), opened(browser, server)
        deaf = '{"prints": {}, "benches": {"drop": null, "ink": null, "photo": null}}'
        second.route("**/api/pulse", lambda route: route.fulfill(body=deaf))  # it hears nothing of the other's change
        named(first, "alpha")
        first.locator(".station .name", has_text="alpha").wait_for(timeout=60_000)
        named(second, "beta")
        second.locator("#bar", has_text="changed in another window").wait_for(timeout=60_000)
        second.locator(".station .name", has_text="alpha").wait_for(timeout=60_000)
        second.get_by_role("button", name="Make my change all the same").click()
        second.locator(".station .name", has_text="beta").wait_for(timeout=60_000)
        first.locator(".station .name", has_text="beta").wait_for(timeout=60_000)  # and the other shows it by itself
        first.locator("#status", has_text="Changed in another window").wait_for(timeout=60_000)
        second.close()
        server.process.send_signal(signal.SIGKILL)
        server.process.wait(30)
        first.locator("#bar", has_text="sepkit has stopped").wait_for(timeout=60_000)
        first.locator("#cloth").focus()
        first.keyboard.press("1")
        first.locator("#status", has_text="is lifted").wait_for(timeout=60_000)
        named(first, "gamma")
        first.locator("#status", has_text="Nothing was changed").wait_for(timeout=60_000)
    with serving(tmp_path) as server:
        page = opened(browser, server)
        page.locator(".station .name", has_text="beta").wait_for(timeout=60_000)
        page.close()
        first.close()
