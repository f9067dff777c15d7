"""Several machines at once, from one list: read, judged beside its cells, saved whole or not at all."""
