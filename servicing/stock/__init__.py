"""Parts: what lies where, what is reserved, what to buy."""
