"""Shows a review: terminal, JSON and what else people read."""
