"""What a browser would send of the form on a page, so that a test presses the page's own button."""

from html.parser import HTMLParser

LEFT_OUT = ("submit", "button", "reset", "file")


class _Forms(HTMLParser):
    """Reads every form that a button sends once."""

    def __init__(self) -> None:
        super().__init__()
        self.inside = False
        self.found: list[dict[str, list[str]]] = []
        self._text: list[str] | None = None
        self._select = ""

    @property
    def fields(self) -> dict[str, list[str]]:
        return self.found[-1]

    def handle_starttag(self, tag, attrs):
        said = dict(attrs)
        if tag == "form":
            self.inside = "data-once" in said
            if self.inside:
                self.found.append({})
        if not self.inside:
            return
        name = said.get("name") or ""
        if tag == "input" and name and said.get("type") not in LEFT_OUT:
            if said.get("type") in ("radio", "checkbox") and "checked" not in said:
                return
            self.fields.setdefault(name, []).append(said.get("value") or "")
        elif tag == "textarea":
            self.fields[name] = [""]
            self._text = self.fields[name]
        elif tag == "select":
            self._select = name
        elif tag == "option" and (name := self._select):
            self.fields.setdefault(name, [said.get("value") or ""])  # the first one stands for none
            if "selected" in said:
                self.fields[name] = [said.get("value") or ""]

    def handle_data(self, data):
        if self._text is not None:
            self._text[0] += data

    def handle_endtag(self, tag):
        if tag == "textarea" and self._text is not None:
            self._text[0] = self._text[0].removeprefix("\n").replace("\r\n", "\n").replace("\n", "\r\n")
            self._text = None
        elif tag == "select":
            self._select = ""
        elif tag == "form":
            self.inside = False


def as_sent(page: str, *, holding: str = "") -> dict[str, list[str]]:
    """Return the fields of the page's form that has this field, else of its first form, with their values."""
    forms = _Forms()
    forms.feed(page)
    assert forms.found, "no form on the page"
    return next((each for each in forms.found if holding in each), forms.found[0])
