"""What the version before kept on a phone is read by the names of now."""

import pytest

pytestmark = pytest.mark.browser

READ = """async (kept) => {
    const { valuesNow } = await import("/static/hourmark/former_names.js");
    return valuesNow(kept);
}"""


def test_an_order_kept_before_is_deferred(door):
    page = door.open()
    page.goto("/sign-in/")
    kept = {
        "lines-7-outcome": "left",
        "lines-7-put_off_until": "2026-05-07",
        "lines-7-note": "left",
        "lines-7-checks-3-left": "7.5",
        "lines-8-outcome": "done",
    }
    assert page.evaluate(READ, kept) == {
        "lines-7-outcome": "deferred",
        "lines-7-deferred_until": "2026-05-07",
        "lines-7-note": "left",
        "lines-7-checks-3-left": "7.5",
        "lines-8-outcome": "done",
    }
