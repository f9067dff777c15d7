"""Sheets of paper as PDF, set by Typst.

Each sheet is a module that says in plain words what stands on it, and a template of the same name that says
where. `house.typ` holds what all sheets share. Words reach a template as data only, never as its source, so
that nothing a person typed is taken for markup.
"""
