"""Demo scenarios to copy from; every one is invented."""
