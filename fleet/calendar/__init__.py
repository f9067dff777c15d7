"""Which days of a machine are spoken for: bookings, holidays, asks, and the one calendar they all look at."""
