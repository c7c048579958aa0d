"""From the scenario to numbers, and through the steps over all runs."""
