"""What several checks compute with: limits, stores, the room, reliefs. No check and no hook."""
