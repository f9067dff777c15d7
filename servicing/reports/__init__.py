"""What a month was."""
