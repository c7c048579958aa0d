"""Many set-ups at once: found, reviewed, kept in an SQLite store, compared with earlier ones."""
