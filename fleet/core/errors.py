"""What the fleet's processes raise when a request can't be carried out."""


class FleetError(Exception):
    """A refusal a person can act on: `sentence` is shown as it is, `field` names the entry it concerns."""

    code = "refused"

    def __init__(self, sentence: str, *, field: str | None = None) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field


class NotAllowed(FleetError):
    """The member's role doesn't hold the right this needs."""

    code = "not-allowed"


class Stale(FleetError):
    """Somebody else changed the thing since it was shown."""

    code = "stale"


class WrongState(FleetError):
    """The thing is not in a state in which this can be done."""

    code = "wrong-state"


class AskFirst(FleetError):
    """It can be done, and does what the person may not mean: to be asked before, and done when confirmed."""

    code = "ask-first"


class NoRoom(FleetError):
    """A disk is full: nothing is wrong with what was sent, and it can be sent again."""

    code = "no-room"
