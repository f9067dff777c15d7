"""Figures that planning and costs need and nobody has entered yet: found, asked for, entered."""
