"""Reference data: substances, materials, joints, with their provenance."""
