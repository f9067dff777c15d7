"""Service programs: loaded, drafted, kept, applied, and deviated from."""
