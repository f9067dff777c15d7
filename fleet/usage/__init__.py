"""Hours become dates: numpy and scipy only, no Django and nothing from elsewhere in the project.

``history`` cleans readings into increments, ``pace`` learns how a machine is used from them,
``crossing`` says on which day a machine reaches a mark.

Days are floats: days since 1970-01-01 00:00 UTC, so that a day with a clock change is still told apart
from one without. Hours are total machine hours (the meter plus its segment's offset).
"""
