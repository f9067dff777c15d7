"""JSON judged before it is read: what a few bytes say can take a thousand times as much memory as objects."""

import re

from django.utils.translation import gettext as _

from fleet.usage.figures import how_many

DEEPEST = 20  # objects and lists inside each other
STRING = re.compile(r'"[^"]*"')
BRACKET = re.compile(r"[\[\]{}]")
BRACKET_OR_END = re.compile(r"[\[\]{}\n]")


class TooMuch(ValueError):
    """A text that would make too many objects; the words complete "the body ..."."""


def check_json(text: str, *, most: int, lined: bool = False) -> None:
    """Raise TooMuch for a text of too many values (members, entries, objects, lists) or nested too deeply.

    lined: each line is a text of its own, and begins without depth.
    Linear in the text; strings are passed over. What isn't JSON at all is left to who reads it.
    """
    bare = STRING.sub('""', text.replace("\\\\", "").replace('\\"', ""))
    values = bare.count(",") + bare.count("[") + bare.count("{")
    if values > most:
        said = _("holds {values} values; at most {most} are read")
        raise TooMuch(said.format(values=how_many(values), most=how_many(most)))
    depth = 0
    for bracket in (BRACKET_OR_END if lined else BRACKET).finditer(bare):
        depth = 0 if bracket[0] == "\n" else depth + (1 if bracket[0] in "[{" else -1)
        if depth > DEEPEST:
            raise TooMuch(_("is nested too deeply: more than {deepest} levels").format(deepest=DEEPEST))
