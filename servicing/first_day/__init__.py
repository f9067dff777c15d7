"""A new organisation is led through its first steps: what is there, what is missing, and where it is done."""
