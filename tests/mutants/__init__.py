"""Small faults put into the arithmetic, one at a time, and whether the tests notice: `make mutants`."""
