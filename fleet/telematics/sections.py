"""A section of a unit as it was sent: each name with all of its values, so that none is dropped unseen."""

from collections.abc import Callable, Iterable

Section = dict[str, list[str]]
BESIDE = ">"  # before the name of what stands beside a value: its unit of measure, its time
MOST = 4  # values of one name; as many as that are in doubt whatever more there are
SEVERAL = " ≠ "
"""Between several values that were sent where a unit has one: kept as one text, which is nobody's."""
SHOWN = 30  # characters of each of them


def add(section: Section, name: str, text: str, *, beside: bool = False) -> None:
    """Put a value to those of its name, where it is another than these."""
    values = section.setdefault(BESIDE + name if beside else name, [])
    if len(values) < MOST and (text := text.strip()) not in values:
        values.append(text)


def settled(section: Section) -> Section:
    """What stands beside values counts where the section itself has nothing of that name."""
    own = {name: values for name, values in section.items() if not name.startswith(BESIDE)}
    return {name.removeprefix(BESIDE): values for name, values in section.items()} | own


def one_of(values: Iterable[str], differ: Callable[[str, str], bool]) -> str:
    """Return the one value, '' where there is none, or all that differ, joined."""
    distinct: list[str] = []
    for value in values:
        if value and not any(not differ(value, each) for each in distinct):
            distinct.append(value)
    if len(distinct) < 2:
        return distinct[0] if distinct else ""
    return SEVERAL.join(sorted(each[:SHOWN] for each in distinct[:3]))


def several(text: str) -> list[str]:
    """The values that `one_of` joined; none where it is a single one."""
    return text.split(SEVERAL) if SEVERAL in text else []
