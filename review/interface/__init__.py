"""What a plugin sees and says: measures, kinds, checks, item kinds, hooks, results."""
