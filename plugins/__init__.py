"""The built-in checks; each uses only the public plugin interface."""
