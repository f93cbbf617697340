"""The same notebooks as pages without code, on a desk screen, a tablet and a phone."""

import pytest

from tests.browser.server import TOKEN

SIZES = {"desk": (1280, 1000), "tablet": (820, 1180), "phone": (390, 844)}


@pytest.mark.parametrize("size", list(SIZES))
def test_a_form_on_every_screen(page, pages, size):
    width, height = SIZES[size]
    page.set_viewport_size({"width": width, "height": height})
    page.goto(f"{pages}/voila/render/61-preload-from-torque.ipynb?token={TOKEN}", wait_until="domcontentloaded")
    answer = page.locator(".jupyter-widgets [data-result=preload]")
    answer.filter(has_text="24.27 kN").first.wait_for(timeout=60_000)
    assert page.locator(".jp-InputArea-editor:visible").count() == 0, "code shows"
    box = page.locator(".shop-field input").first
    box.fill("80 Nm")
    answer.filter(has_text="48.54 kN").first.wait_for(timeout=10_000)
    box.fill("80")
    page.locator(".shop-field .shop-error").first.wait_for(timeout=10_000)
    assert box.bounding_box()["height"] >= 40
    form = page.locator(".jupyter-widgets.shop").first
    assert form.evaluate("e => e.scrollWidth <= e.clientWidth + 1"), "the form scrolls sideways"
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth + 1"), "the page scrolls sideways"


def test_a_stranger_without_the_token_sees_nothing(page, pages):
    answer = page.request.get(f"{pages}/voila/render/61-preload-from-torque.ipynb", max_redirects=0)
    assert answer.status in (302, 401, 403)
    assert "preload" not in answer.text()
