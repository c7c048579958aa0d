"""Which settings are allowed: many reviews of one set-up with other numbers in its file."""
