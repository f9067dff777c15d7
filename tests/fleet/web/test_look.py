"""Light or dark: the device decides unless somebody chose; paper stays light."""

import pytest
from django.conf import settings

DARK_SHEET = 'hourmark/dark.css" media="screen'


@pytest.mark.parametrize(("chosen", "sheet", "scheme"), [
    ("dark", f'{DARK_SHEET}"', '"dark"'),
    ("light", "", '"light"'),
    ("system", f'{DARK_SHEET} and (prefers-color-scheme: dark)"', '"light dark"'),
    ("pink", f'{DARK_SHEET} and (prefers-color-scheme: dark)"', '"light dark"'),
])  # fmt: skip
def test_what_is_chosen_holds_on_this_device(farm, chosen, sheet, scheme):
    browser = farm.client("technician")
    browser.post("/look/", {"look": "dark"})
    answer = browser.post("/look/?next=%2Fmachines%2F%3Fword%3Dx", {"look": chosen})
    assert (answer.status_code, answer.url) == (302, "/machines/?word=x")
    html = browser.get("/").content.decode()
    assert f'name="color-scheme" content={scheme}' in html
    assert ("dark.css" in html) is bool(sheet)
    assert sheet in html
    pressed = chosen if chosen in ("dark", "light") else "system"
    assert f'value="{pressed}" aria-pressed="true"' in html
    assert "dark.css" in farm.client("technician").get("/").content.decode(), "another device is asked itself"


def test_a_strange_place_to_go_back_to_is_not_gone_to(farm):
    answer = farm.client("owner").post("/look/?next=https://example.com/", {"look": "dark"})
    assert answer.url == "/"
    cookie = answer.cookies[settings.LOOK_COOKIE]
    assert (cookie["httponly"], cookie["samesite"]) == (True, "Lax")


def test_before_a_sign_in_the_device_decides(client, db):
    html = client.get("/sign-in/").content.decode()
    assert f'{DARK_SHEET} and (prefers-color-scheme: dark)"' in html
