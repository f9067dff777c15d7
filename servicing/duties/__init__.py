"""What falls due: duties of machines, the days on which that is likely, and how good such days were."""
