"""Measures, facts and rules to findings and a verdict; pure."""
