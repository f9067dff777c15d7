"""Why a mail was not handed over, by what follows from it. Each carries a sentence that people read."""


class NotHandedOver(Exception):
    """The mail server did not take a mail, or didn't say so; `sentence` tells it to people."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


class Refused(NotHandedOver):
    """This mail will not be taken however often it is tried."""


class NotYet(NotHandedOver):
    """It was certainly not taken, and may be the next time."""


class ServerAway(NotYet):
    """The server did not let us begin: that says nothing of this mail."""


class Unreachable(ServerAway):
    """There was no connection to the server at all; the next mail would find none either."""


class Misconfigured(NotHandedOver):
    """No mail will be taken before whoever runs the installation mends its settings."""


class Unanswered(NotHandedOver):
    """All of it went out and no answer came back: it may have arrived."""
