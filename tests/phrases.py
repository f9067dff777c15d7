"""Phrases that people of the trade wouldn't say, or had to read twice; nothing that a person sees has them.

Whole phrases, in lower case: common words such as "left" or "work" have honest uses.
"""

PHRASES = tuple(
    line.strip()
    for line in """
    past their mark
    past its mark
    duties are being projected
    could be used on
    services done in time
    services expected
    jobs expected in
    due earlier, done
    due earlier, still open
    left with a reason
    missed by, leaning
    held in 100
    how good were we
    is what we promise
    kin to lean on
    days of the past
    saves a stop
    near enough for the same stop
    runs the hours of
    run the hours of
    runs no hours
    hangs on it
    hangs on no machine
    the machine it hangs on
    take it off there
    may stand in
    stand in:
    equivalents stand in
    to order more at
    point to order more
    nine cases of ten
    9 of 10
    below nought
    less than nothing
    depart from the program
    departs from its program
    follow the program again
    of the weight comes from
    for nobody: its days follow
    take it into service again
    mark moves
    mark would move
    counted from fixed marks
    no tag-out, no fault to fix first
    it stays in.
    with a day, the answer also looks
    almost surely fall due
    more likely than not fall due
    8 in 10: from
    earlier than by its rule
    sent out all the same
    planned all the same
    the page holds nobody back
    nobody may use
    nobody assigned
    is kept beside the return
    is already more than the
    can't be true as sent
    each waits for a person
    it is right as it stands
    strike it
    is in the book
    take it back again
    what came of it
    the dealer is to look at
    name the day it is deferred until
    nobody starts the engine
    type this sheet in
    type in a filled sheet
    hands-on minutes
    hands-on time lacks
    beside what one does by hand
    the cost lacks
    that is no month
    your password until now
    note that both fields may be case-sensitive
    this field is required
    this is not for your role
    this sign-in belongs to no organisation
    this page is too old to be sent
    is not yours to see to
    servers that are asked
    each of these is told once
    good morning
    stopped at signing in
    asks you in
    asked, not in yet
    keep it and sign in
    set the file aside
    nothing of it was taken in
    nothing is taken in yet
    fetch the rejected rows
    what would become of the first rows
    the look of a date
    the look of a number
    is no number of hours
    is no time of day
    left this time out
    loosen that first
    is no photo
    no machine here is called
    its tag or its serial number
    id, tag or serial number
    somebody has dealt with it
    deal with it
    no day is booked twice
    no holiday lies behind
    make or model not in the list
    hours in, due days out
    something broke on our side
    has given no sign of life
    only half a document
    leads on and on
    packs its answer
    a box in the field
    in a shed
    without a line
    when the line is back
    as soon as there is a line
    while there is a line
    this browser keeps nothing
    code or tag
    leads nowhere from then on
    whoever scans one
    everything ahead
    is under way since
    it is out with {hirer} since
    nothing speaks against
    all the same, because
    all the same, say why
    lie between
    due until
    is no operator
    under tokens
    every kind
    """.strip().splitlines()
)


def found_in(text: str) -> list[str]:
    """Return the phrases that stand in the text, whatever its blanks and capitals."""
    plain = " ".join(text.lower().replace("’", "'").split())
    return [phrase for phrase in PHRASES if phrase in plain]
