"""A person who has a keyboard and no mouse: everything is reached by Tab, and seen when it is."""

from playwright.sync_api import Locator, Page, expect

FARTHEST = 250  # presses of Tab; the longest page has fewer places to stop at
FOCUSED = "each => each === document.activeElement"
OUTLINE = "each => parseFloat(getComputedStyle(each).outlineWidth)"
THICK = 3  # CSS pixels, as the house draws it


class Keys:
    """The keys of one page. `pressed` counts all but those that type a text."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.pressed = 0

    def to(self, place: Locator) -> Locator:
        """Go on by Tab until a place has the focus; it must be seen there, with its outline."""
        expect(place).to_have_count(1)
        for _ in range(FARTHEST):
            if place.evaluate(FOCUSED):
                break
            self._press("Tab")
        else:
            raise AssertionError(f"Tab never reaches {place}")
        expect(place).to_be_in_viewport()
        assert place.evaluate(OUTLINE) >= THICK, f"nothing shows that the focus is on {place}"
        return place

    def enter(self, place: Locator) -> None:
        """Follow a link or press a button."""
        self.to(place)
        self._press("Enter")

    def tick(self, box: Locator, *, on: bool = True) -> None:
        """Tick a box, or take its tick away."""
        if box.is_checked() != on:
            self.to(box)
            self._press("Space")
        expect(box).to_be_checked(checked=on)

    def choose(self, group: Locator, word: str) -> None:
        """Choose one of several radio buttons: Tab reaches the group, arrows move in it."""
        wanted = group.get_by_label(word, exact=True)
        radios = group.get_by_role("radio")
        chosen = radios.and_(self.page.locator(":checked"))
        self.to(chosen if chosen.count() else radios.first)
        if not chosen.count():
            self._press("Space")
        for _ in range(radios.count()):
            if wanted.is_checked():
                break
            self._press("ArrowDown")
        expect(wanted).to_be_checked()

    def pick(self, box: Locator, word: str) -> None:
        """Choose from a list by typing how it begins."""
        self.to(box)
        self.page.keyboard.type(word)
        expect(box.locator("option:checked")).to_have_text(word)

    def write(self, place: Locator, text: str) -> None:
        """Type into a field, instead of what stands there."""
        self.to(place)
        self._press("ControlOrMeta+a")
        self.page.keyboard.type(text)

    def _press(self, key: str) -> None:
        self.page.keyboard.press(key)
        self.pressed += 1
