"""What can hurt, how badly, and what to do about it: words, and drawings in hazards.svg by the same names.

The numbers are those of ISO 7010 whose sense a drawing has, from memory; "-" where none is known to us. Each
drawing is our own. Triangles warn, discs say what must be done, a ring with a bar what must not (ISO 3864-1).
"""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import TextChoices
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy


class Signal(TextChoices):
    """The signal word, by how badly a hazard hurts: the three of ISO 3864-2 and ANSI Z535.4, from memory.

    What can't hurt a person has none.
    """

    # will kill or injure badly if not avoided
    DANGER = "danger", pgettext_lazy("signal word", "Danger")
    # could kill or injure badly if not avoided
    WARNING = "warning", pgettext_lazy("signal word", "Warning")
    # could injure slightly or moderately if not avoided
    CAUTION = "caution", pgettext_lazy("signal word", "Caution")


class Hazard(TextChoices):
    """What can hurt. The general one is for what no other says."""

    GENERAL = "general", _("Hazard")  # W001
    HOT = "hot", _("Hot parts or fluid")  # W017
    SCALD = "scald", _("Steam and hot coolant")  # -
    PRESSURE = "pressure", _("Pressure")  # W029, there a cylinder
    INJECTION = "injection", _("Jet that goes through skin")  # -; ISO 11684 has such a pictorial
    LIFTED = "lifted", _("Lifted load")  # W015
    ROTATING = "rotating", _("Rotating parts")  # W025, there rollers
    PTO = "pto", _("PTO shaft")  # -; ISO 11684 has such a pictorial
    START = "start", _("May start by itself")  # W018
    ROLLING = "rolling", _("May roll away")  # -
    TIPPING = "tipping", _("Tipping over")  # -
    PINCH = "pinch", _("Pinching or crushing")  # W024, W019
    SHARP = "sharp", _("Sharp edges")  # W022
    THROWN = "thrown", _("Thrown pieces")  # -
    BATTERY = "battery", _("Battery")  # W026
    ELECTRIC = "electric", _("Electric shock")  # W012
    FUEL = "fuel", _("Fuel and vapour")  # W021
    CHEMICAL = "chemical", _("Chemical")  # W016
    CORROSIVE = "corrosive", _("Acid or lye")  # W023
    GAS = "gas", _("Exhaust or harmful gas")  # W041
    DUST = "dust", _("Dust")  # -
    NOISE = "noise", _("Noise")  # W038


class Action(TextChoices):
    """What must be done, or must not, before a hand goes near."""

    MANUAL = "manual", _("Read the manual")  # M002
    KEY_OUT = "key-out", _("Engine off, key out")  # M021, there any source of energy
    NO_START = "no-start", _("Do not start it")  # P031, there a switch
    LOWER = "lower", _("Lower it to the ground")  # -
    SUPPORT = "support", _("Support what is raised")  # -
    CHOCK = "chock", _("Chock the wheels")  # -
    BATTERY_OFF = "battery-off", _("Battery negative off")  # M021
    EYES = "eyes", _("Wear eye protection")  # M004
    GLOVES = "gloves", _("Wear gloves")  # M009
    EARS = "ears", _("Wear ear protection")  # M003
    MASK = "mask", _("Wear a mask")  # M016, M017

    @property
    def kind(self) -> str:
        """Return "no" for what must not be done, else "must"."""
        return "no" if self is Action.NO_START else "must"


@dataclass(frozen=True)
class Panel:
    """A warning as it stands on every page and sheet. `signal` is None where its severity was not said."""

    hazard: Hazard
    signal: Signal | None
    actions: tuple[Action, ...]

    @property
    def head(self) -> str:
        """Return the signal word; the hazard's name where there is none."""
        return str((self.signal or self.hazard).label)

    @property
    def name(self) -> str:
        """Return the hazard's name where the head doesn't say it; "" for the general one."""
        return str(self.hazard.label) if self.signal and self.sign != Hazard.GENERAL else ""

    @property
    def sign(self) -> str:
        """Return the name of the drawing."""
        return self.hazard.value


def panel(hazard: str = "", signal: str = "", must: Iterable[str] | None = ()) -> Panel:
    """Return the panel of a hazard; "" is the general one, and no signal word. No severity is guessed.

    Raises ValueError for a word that is none of those above.
    """
    return Panel(
        hazard=Hazard(hazard or Hazard.GENERAL),
        signal=Signal(signal) if signal else None,
        actions=actions(must),
    )


def actions(must: Iterable[str] | None) -> tuple[Action, ...]:
    """Return actions by their names, given as a list or parted by blanks."""
    return tuple(Action(name) for name in (must.split() if isinstance(must, str) else must or ()))
