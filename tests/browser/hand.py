"""A person's hand: what is filled in and pressed, counted, with the time it takes.

Times by the keystroke-level model (Card, Moran and Newell, Communications of the ACM 23, 1980; from memory):
a key 0.5 s as for one who types letters without sense, pointing 1.1 s, a button 0.1 s, thinking before an act
1.35 s. What it leaves out, reading, is ours: 15 s for each page that comes up. No source for that.
"""

from dataclasses import dataclass, field
from itertools import pairwise

from playwright.sync_api import Locator, Page

KEY, POINT, BUTTON, THINK, READ = 0.5, 1.1, 0.1, 1.35, 15.0  # seconds


@dataclass
class Hand:
    """The hand at one page."""

    page: Page
    fields: int = 0
    presses: int = 0
    pages: int = 0
    seconds: float = 0.0
    told: list[tuple[str, int, int, float]] = field(default_factory=list)  # after each step, from the start

    def press(self, what: Locator) -> None:
        """Press a button or a link."""
        before = self.page.url
        what.click()
        self.page.wait_for_load_state()
        self.presses += 1
        self.seconds += THINK + POINT + BUTTON
        if self.page.url != before or what.count() == 0:
            self.pages += 1
            self.seconds += READ

    def type(self, where: Locator, text: str) -> None:
        """Type into a field."""
        where.fill(text)
        self.fields += 1
        self.seconds += THINK + POINT + BUTTON + KEY * len(text)

    def paste(self, where: Locator, text: str) -> None:
        """Paste what was copied elsewhere: mark it there, copy, point here, paste."""
        where.fill(text)
        self.fields += 1
        self.seconds += 2 * (THINK + POINT + BUTTON) + 4 * KEY

    def choose(self, where: Locator, label: str) -> None:
        """Choose from a list."""
        where.select_option(label=label)
        self.fields += 1
        self.seconds += THINK + 2 * (POINT + BUTTON)

    def send(self, where: Locator, name: str, content: bytes) -> None:
        """Choose a file."""
        where.set_input_files({"name": name, "mimeType": "text/csv", "buffer": content})
        self.fields += 1
        self.seconds += THINK + 3 * (POINT + BUTTON)

    def step(self, name: str) -> None:
        """Note what has been done since the last step."""
        self.told.append((name, self.fields, self.presses, self.seconds))

    @property
    def account(self) -> str:
        """What each step took, and all of them."""
        steps = []
        for before, now in pairwise([("", 0, 0, 0.0), *self.told]):
            fields, presses, seconds = now[1] - before[1], now[2] - before[2], now[3] - before[3]
            steps.append(f"{now[0]}: {fields} fields, {presses} presses, {seconds:.0f} s")
        steps.append(f"in all: {self.fields} fields, {self.presses} presses, {self.seconds / 60:.1f} min")
        return "\n".join(steps)
