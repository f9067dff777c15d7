"""The month on paper, in plain arithmetic: hours, compliance, costs, downtime and what comes next.

Nothing here knows Django, a database or the clock; figures go in as plain values and come out the same way.
"""
