"""Formats of Django's that we don't take from a language.

What people read is written by `fleet.core.wording`. A number that a template writes by itself is a place on a
drawing, a width, the value of a field: a decimal comma would break it.
"""
