"""What the whole house stands on: errors, the queue, photos, rights, fast queries, typed numbers, CSV."""
