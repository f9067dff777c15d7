"""Which work, when: plain Python and numpy, no Django and nothing from elsewhere in the project.

``intervals`` holds the rules by which one mark follows another.
"""
