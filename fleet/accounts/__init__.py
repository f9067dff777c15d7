"""Organisations, their yards and members, how people come in, tokens; who asks, for which organisation."""
