"""Criteria, limits and reference data, as YAML that people can read and change."""
