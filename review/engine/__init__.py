"""Finds plugins and rules, calls the stages, cuts the runs into chunks; knows no hazard."""
