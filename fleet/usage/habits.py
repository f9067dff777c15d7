"""The constants that the projection ships with, and where each was learned.

Scalars were tuned on the shared set, ``USUAL_LEVELS`` learned there; both are learned again for each fold of
machines, from the readings of the other folds, by

    python benchmarks/projection_score.py FOLDER --refit --fleets

and ``--usual`` prints the levels to be written here.
"""

from typing import NamedTuple

# How many in 10,000 machines of the shared set have their settled level at each place of levels.GRID; the
# places left out have none. It is the use of aircraft out of one city, not of farms: two thirds run an hour
# a day, a tenth two and a quarter. levels.guesses leaves it where a fleet's own machines speak against it.
USUAL_LEVELS = (
    *(2, 3, 4, 5, 6, 8, 13, 29, 270, 3296, 3931, 725, 150, 118, 258, 563, 284, 57, 27, 22, 25, 42, 80, 51),
    *(13, 5, 3, 2, 2, 1, 1, 1, 1),
)


class Habits(NamedTuple):
    """The constants of the model. Days are days; roots are of hours a day."""

    recent_half_life: float = 20.0  # memory of the present swing, days
    settled_half_life: float = 50.0  # memory of the settled level, days
    lump_half_life: float = 75.0  # memory of the lumps, days
    lump_share: float = 0.75  # of the measured lumps, what is chance rather than swing
    lump_kin: float = 100.0  # hours of its own that a machine's lumps are weighed against
    swing: float = 0.16  # standard deviation of the swing, root
    swing_days: float = 30.0  # days over which a swing fades to 1/e
    swing_kept: float = 0.5  # share of a perfectly seen swing that is carried forward
    swing_unseen: float = 0.4  # share of the swing's variance that lies ahead
    habit_width: float = 0.1  # spread of machines around a common level, root
    level_floor: float = 0.07  # spread of a level that is perfectly known, root
    kind_weight: float = 8.0  # machines that the organisation counts for, beside those of the type
    spell: float = 0.15  # power of own lumps over the kin's by which the level is raised
    wide_weight: float = 15.0  # machines that the guess at an organisation counts for, beside its own
    wide_mean: float = 1.4  # wide prior: root of about 2 hours a day
    wide_spread: float = 0.8
    wide_lump: float = 4.0  # hours
    usual: tuple[int, ...] = USUAL_LEVELS
    usual_chance: float = 0.4  # that an organisation's machines have the usual levels
    paced_chance: float = 0.4  # that theirs are the same but slower or faster; else the wide prior holds
    paced_spread: float = 0.4  # standard deviation of the log of the factor, root
    strays: float = 0.05  # share of machines in such organisations that the wide prior holds for
    rounds: int = 25  # of EM: fewer leave the levels blurred, many more overfit


HABITS = Habits()
