"""The service worker that keeps pages for a phone, and which scripts go with a page."""

import re
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders

from servicing.web.service_worker import imports_in, scripts_of

NAMED = re.compile(r"""["'`]([^"'`\s]*\.js)["'`]""")
PAGES = ("hourmark/phone.js", "hourmark/steps.js")


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ('import { a } from "./a.js";', ["./a.js"]),
        ("import a from '../a.js'", ["../a.js"]),
        ('import * as a from "./a.js";import b from "./b.js";', ["./a.js", "./b.js"]),
        ('import {\n  a,\n  b as c,\n} from\n  "./a.js";\n', ["./a.js"]),
        ('import "./a.js";', ["./a.js"]),
        ('export { a } from "./a.js";\nexport * from "./b.js";', ["./a.js", "./b.js"]),
        ('export {\n  a,\n} from "./a.js";', ["./a.js"]),
        ('export const a = "./a.js";', []),
        ('export function a() {\n  return b("./a.js");\n}', []),
        ('const important = "./a.js";', []),
    ],
)
def test_imports_and_exports_from_elsewhere_are_found_over_several_lines(text, found):
    assert imports_in(text) == found


@pytest.mark.parametrize("page", PAGES)
def test_no_script_of_a_page_names_another_in_a_way_that_is_not_found(page):
    """Such as `import("./a.js")`, or an address from the root: it would lack without a signal."""
    for name in (page, *(each.removeprefix("/static/") for each in scripts_of(page))):
        text = Path(finders.find(name)).read_text()
        assert sorted(NAMED.findall(text)) == sorted(imports_in(text)), name


@pytest.mark.parametrize(
    "text", ['await import("./a.js")', 'import a from "/static/a.js";', "import(`./a.js`)"]
)
def test_a_name_that_is_not_found_is_noticed(text):
    assert (len(NAMED.findall(text)), imports_in(text)) == (1, [])


def test_the_service_worker_comes_from_the_root_and_is_asked_for_anew(farm, client):
    answer = client.get("/service-worker.js")
    assert answer.status_code == 200
    assert answer["Content-Type"].startswith("text/javascript")
    assert answer["Cache-Control"] == "no-cache"
    assert b'addEventListener("fetch"' in b"".join(answer.streaming_content)
