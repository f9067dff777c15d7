"""What waits on a phone is sent one window at a time, and only the house's own answer settles it."""

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.steps import BRAKES
from tests.browser.test_failed_safety import save, step
from tests.browser.test_offline_order import KEPT, cancel, go_to, order_brakes_and_a_fault, status, value

pytestmark = pytest.mark.browser

FACTS = "JSON.parse(document.querySelector('.work').dataset.facts)"
HOLD = f"""() => new Promise((held) => {{
    const {{ member, order }} = {FACTS};
    navigator.locks.request(`hourmark-order-${{member}}-${{order}}`, () => {{
        held();
        return new Promise((release) => {{ window.release = release; }});
    }});
}})"""
ANOTHER_ANSWERS = """([status]) => {
    const headers = { "Content-Type": "text/html" };
    const page = () => new Response("<p>Welcome to our network</p>", { status, headers });
    window.line = window.fetch;
    window.fetch = async (address, options) =>
        options?.method === "POST" ? page() : window.line(address, options);
}"""
BACK = """() => {
    window.fetch = window.line;
    document.dispatchEvent(new Event("visibilitychange"));
}"""
LATE = """() => {
    window.line = window.fetch;
    window.asked = new Promise((asked) => {
        window.fetch = async (address, options) => {
            if (options?.method === "POST") {
                asked();
                await new Promise((go) => { window.go = go; });
            }
            return window.line(address, options);
        };
    });
}"""
SEND_HOURS = """async ([status, entry]) => {
    const kept = await import("/static/hourmark/offline/phone/kept.js");
    const { sendWaiting } = await import("/static/hourmark/offline/phone/send.js");
    await kept.keep(entry);
    const headers = { "Content-Type": "text/html" };
    window.fetch = async () => new Response("<p>Welcome to our network</p>", { status, headers });
    const left = await sendWaiting();
    const [{ state }] = await kept.all();
    await kept.drop(entry.id);
    return [left, state];
}"""


def left_pedal(page: Page, found: str) -> None:
    """Enter a value of the brakes, and leave the step."""
    go_to(page, BRAKES)
    value(page, "Left brake pedal", "as found").fill(found)
    go_on(page)


def go_on(page: Page) -> None:
    """Save the step of the brakes; the next one is shown."""
    save(page)
    expect(step(page).get_by_role("heading", level=2)).not_to_contain_text(BRAKES)


def recorded(page: Page) -> list[Any]:
    """The values that the house has of the order, as an answer over the line says."""
    order = page.evaluate(f"(window.line ?? fetch)({FACTS}.api).then((answer) => answer.json())")
    return [result["found_value"] for line in order["lines"] for result in line["results"]]


def test_an_order_is_sent_by_one_window_at_a_time_and_only_to_the_house(door):
    desk = door.enter("tomas")
    order, _ = order_brakes_and_a_fault(desk)
    page = door.enter("niko", phone=True)
    page.goto(f"{order}steps/")
    expect(status(page)).to_have_text(KEPT)

    # The token of forms has ended, the sign-in has not.
    page.context.clear_cookies(name="csrftoken")
    left_pedal(page, "24")
    expect(status(page)).to_contain_text("All sent.")
    assert recorded(page) == ["24.000000"]

    # While another window of this phone sends, this one waits.
    other = page.context.new_page()
    other.goto(f"{order}steps/")
    expect(status(other)).to_have_text(KEPT)
    other.evaluate(HOLD)
    left_pedal(page, "25")
    expect(status(other)).to_contain_text("Kept on this phone: 1 entry")
    assert recorded(page) == ["24.000000"]
    other.evaluate("release()")
    for each in (page, other):
        expect(status(each)).to_contain_text("All sent.")
    assert recorded(page) == ["25.000000"]
    other.close()

    # A network that wants a sign-in of its own answers everything with its page.
    for answer in (200, 403, 404):
        page.evaluate(ANOTHER_ANSWERS, [answer])
        left_pedal(page, f"24.{answer}")
        expect(status(page)).to_have_text("Kept on this phone: 1 entry, sent when you have signal.")
        page.evaluate(BACK)
        expect(status(page)).to_contain_text("All sent.")
        assert recorded(page) == [f"24.{answer}000"]

    # Of what is wrong with a photo the most exact sentence is said.
    go_to(page, BRAKES)
    empty = {"name": "hose.jpg", "mimeType": "image/jpeg", "buffer": b""}
    step(page).locator("input[type=file]").set_input_files(empty)
    go_on(page)
    go_to(page, BRAKES)
    expect(step(page)).to_contain_text("Not sent: The submitted file is empty.")

    # A refusal that comes when something else has been typed says nothing of that.
    page.evaluate(LATE)
    value(page, "Left brake pedal", "as found").fill("abc")
    save(page)
    page.evaluate("window.asked")
    value(page, "Left brake pedal", "as found").fill("23")
    page.evaluate("() => { window.fetch = window.line; window.go(); }")
    expect(status(page)).to_contain_text("All sent.")
    assert recorded(page) == ["23.000000"]
    cancel(desk, order, "Shown enough")


@pytest.mark.parametrize("answer", [200, 403, 404])
def test_hours_wait_where_another_answers_for_the_house(door, answer):
    page = door.enter("niko", phone=True)
    entry = {
        "id": "a",
        "member": 1,
        "machine": 1,
        "code": "",
        "meter": "1",
        "at": 0,
        "note": "",
        "photo": None,
    }
    left = page.evaluate(SEND_HOURS, [answer, {**entry, "state": "waiting"}])
    assert left == ["no line", "waiting"]


def test_a_page_of_an_earlier_version_goes_on_with_the_scripts_kept_with_it(door):
    page = door.enter("niko", phone=True)
    page.goto("/r/")
    expect(status(page)).to_have_text(re.compile("Works without signal"))
    gone = "/static/hourmark/steps/gone.js"
    said = page.evaluate(
        """async (gone) => {
            const kept = await caches.open("hourmark-kept-1");
            const before = (await fetch(gone)).status;
            await kept.put(gone, new Response("export {};"));
            const answer = await fetch(gone);
            return [before, answer.status, await answer.text()];
        }""",
        gone,
    )
    assert said == [404, 200, "export {};"]


KEPT_BEFORE = """async () => {
    const { within } = await import("/static/hourmark/offline/store.js");
    const { all, machinesOf } = await import("/static/hourmark/offline/phone/kept.js");
    const put = (store, row) => within(store, "readwrite", (rows) => rows.put(row));
    await put("entries", { id: "old", shows: "12.5", state: "struck", at: 0 });
    await put("machines", { member: 0, at: 1, cards: [{ shows: "11.00" }] });
    const entry = (await all()).find(({ id }) => id === "old");
    await within("entries", "readwrite", (rows) => rows.delete("old"));
    return [entry.meter, entry.state, (await machinesOf(0)).cards, (await machinesOf(-1)).cards];
}"""


def test_what_a_phone_kept_before_the_upgrade_is_read_under_the_names_of_now(door):
    page = door.enter("niko", phone=True)
    assert page.evaluate(KEPT_BEFORE) == ["12.5", "discarded", [{"meter": "11.00"}], []]
