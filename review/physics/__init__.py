"""Physics without limits: pure functions over arrays, numpy only."""
